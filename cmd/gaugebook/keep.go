package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
	"gaugebook/server/backup"
)

type backupCommand struct {
	home
	Out string `arg:"" help:"File to write; it must not exist yet."`
}

// Run copies the files as they are, whichever version wrote them: nothing of the
// register is changed.
func (c *backupCommand) Run(e *env) error {
	if _, err := os.Stat(c.database()); err != nil {
		return c.noRegister()
	}
	if err := store.BackupFile(e.ctx, c.database(), c.Out); err != nil {
		return err
	}
	head, err := c.writeHead(e)
	if err != nil {
		return fmt.Errorf("the register is in %s, but the newest entry of its log was not written down: %w", c.Out, err)
	}
	photos := c.Out + ".photos"
	done, err := store.BackupPhotos(e.ctx, filepath.Join(c.Data, "photos"), c.Out, photos)
	if err != nil {
		return fmt.Errorf("the register is in %s, but the photos were not all copied: %w", c.Out, err)
	}
	for _, name := range done.Damaged {
		fmt.Fprintf(e.stderr, "gaugebook: %s is damaged and was not copied\n", name)
	}
	for _, sum := range done.Missing {
		fmt.Fprintf(e.stderr, "gaugebook: a record names the photo %s, and there is no sound file of it\n", sum)
	}
	if len(done.Damaged)+len(done.Missing) > 0 {
		e.code = exitAdverse
	}
	_, err = fmt.Fprintf(e.stdout, "The register is in %s, read back and sound.\nThe photos are in %s: %d, each "+
		"read back and sound. “gaugebook restore” brings both back.\nKeep %s with them, in a place of its own: it "+
		"proves what was issued.\n%s", c.Out, photos, done.Copied, c.keyFile(), head)
	return err
}

// writeHead writes the newest entry of the copied log beside the copy, signed,
// and says so. A register of another version than this program is copied without.
func (c *backupCommand) writeHead(e *env) (said string, err error) {
	key, err := c.readKey(c.keyFile())
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	head, err := headOfBackup(e.ctx, c.Out)
	if err != nil {
		return fmt.Sprintf("The newest entry of its audit log could not be read: %v\n", err), nil
	}
	text, err := json.Marshal(map[string]any{"audit_log": records.SignHead(head, e.now(), key)})
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("Its audit log ends with entry %d, %s; that is in %s, signed.\n", head.Entry, head.Hash,
		backup.LogFile(c.Out)), os.WriteFile(backup.LogFile(c.Out), append(text, '\n'), 0o600)
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
	if _, err := app.HashPassword(strings.TrimRight(line, "\r\n")); err != nil { // before a register is made
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
	hash, err := (&app.App{Store: st}).PasswordOf(e.ctx, records.Person{Name: c.Name, Email: c.Email},
		strings.TrimRight(line, "\r\n"))
	if err != nil {
		return err
	}
	p, err := c.owner(e, st, hash)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stdout, "%s can sign in as %s.\n", p.Name, p.Email)
	return err
}

// owner adds the owner. One who came with an imported register and has no
// password yet is given this one instead.
func (c *ownerCommand) owner(e *env, st *store.Store, hash string) (records.Person, error) {
	known, err := st.People.ByEmail(e.ctx, c.Email)
	if err == nil && known.PasswordHash == "" && known.Role == records.RoleOwner && known.Active {
		return known, st.People.SetPassword(e.ctx, commandLine, known.ID, hash)
	}
	return st.People.Create(e.ctx, commandLine, records.Person{Name: c.Name, Email: c.Email, Role: records.RoleOwner,
		PasswordHash: hash,
		Active:       true})
}
