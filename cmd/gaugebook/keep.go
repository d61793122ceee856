package main

import (
	"bufio"
	"fmt"
	"strings"

	"gaugebook/records/store"
	"gaugebook/server"
)

type backupCommand struct {
	home
	Out string `arg:"" help:"File to write; it must not exist yet."`
}

func (c *backupCommand) Run(e *env) error {
	st, err := c.existing(e.ctx)
	if err != nil {
		return err
	}
	defer st.Close()
	if err := st.Backup(e.ctx, c.Out); err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stdout, "The register is in %s, read back and sound.\nKeep %s with it, in a place of its own: it proves what was issued.\n", c.Out, c.keyFile())
	return err
}

type auditCommand struct{ home }

func (c *auditCommand) Run(e *env) error {
	st, err := c.existing(e.ctx)
	if err != nil {
		return err
	}
	defer st.Close()
	if err := st.VerifyAudit(e.ctx); err != nil {
		e.code = exitAdverse
		fmt.Fprintln(e.stderr, "gaugebook:", err)
		return nil
	}
	_, err = fmt.Fprintln(e.stdout, "Every entry of the audit log follows from the one before it.")
	return err
}

type ownerCommand struct {
	home
	Name  string `required:"" help:"Full name."`
	Email string `required:"" help:"E-mail address to sign in with."`
}

// Run takes the password from standard input, so that it is in no command
// line that others on the machine can see.
func (c *ownerCommand) Run(e *env) error {
	fmt.Fprint(e.stderr, "Password, at least 12 characters: ")
	line, err := bufio.NewReader(e.stdin).ReadString('\n')
	if err != nil && line == "" {
		return fmt.Errorf("no password on standard input: %w", err)
	}
	hash, err := server.HashPassword(strings.TrimRight(line, "\r\n"))
	if err != nil {
		return err
	}
	if _, err := c.key(c.fresh()); err != nil {
		return err
	}
	st, err := c.open(e.ctx, e.now)
	if err != nil {
		return err
	}
	defer st.Close()
	p, err := st.CreatePerson(e.ctx, store.Actor{Name: "command line"}, store.Person{
		Name: c.Name, Email: c.Email, Role: store.Owner, PasswordHash: hash, Active: true,
	})
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stdout, "%s can sign in as %s.\n", p.Name, p.Email)
	return err
}
