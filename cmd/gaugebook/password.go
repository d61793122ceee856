package main

import (
	"bufio"
	"fmt"
	"strings"
	"time"

	"gaugebook/server/app"
)

type passwordCommand struct {
	home
	Email string `required:"" help:"E-mail address that the person signs in with."`
}

// Run takes the password from standard input, so that it is in no command line
// that others on the machine can see.
func (c *passwordCommand) Run(e *env) error {
	fmt.Fprint(e.stderr, "New password, at least 12 characters: ")
	line, err := bufio.NewReader(e.stdin).ReadString('\n')
	if err != nil && line == "" {
		return fmt.Errorf("no password on standard input: %w", err)
	}
	st, err := c.openKnown(e)
	if err != nil {
		return err
	}
	defer st.Close()
	p, err := (&app.App{Store: st, Now: e.now, Zone: time.Local}).ResetPassword(e.ctx,
		commandLine, c.Email, strings.TrimRight(line, "\r\n"))
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stdout, "%s signs in with the new password; every open session has ended.\n", p.Name)
	return err
}
