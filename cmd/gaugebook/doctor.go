package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"gaugebook/records/store"
	"gaugebook/server"
	"gaugebook/server/backup"
	"gaugebook/server/https"
)

// state says how a check of the installation came out.
type state string

const (
	well      state = "well"
	note      state = "note"      // worth knowing; nothing need be done
	attention state = "attention" // works, but not as it should
	wrong     state = "wrong"
)

// checked is what one check found, and what to do about it.
type checked struct {
	Check string `json:"check"`
	State state  `json:"state"`
	Found string `json:"found"`
	Do    string `json:"do,omitempty"`
}

type doctorCommand struct {
	settings
	JSON bool `name:"json" help:"Print as JSON."`
}

// Run looks at everything, and changes nothing.
func (c *doctorCommand) Run(e *env) error {
	d := &doctor{settings: c.settings, now: e.now, names: net.DefaultResolver}
	found := d.examine(e.ctx)
	for _, f := range found {
		switch {
		case f.State == wrong:
			e.code = exitAdverse
		case f.State == attention && e.code == exitClear:
			e.code = exitAttention
		}
	}
	if c.JSON {
		return writeJSON(e.stdout, found)
	}
	for _, f := range found {
		fmt.Fprintf(e.stdout, "%-9s  %s: %s\n", f.State, f.Check, f.Found)
		if f.Do != "" {
			fmt.Fprintf(e.stdout, "           → %s\n", f.Do)
		}
	}
	return nil
}

// doctor looks at an installation.
type doctor struct {
	settings
	now   func() time.Time
	names *net.Resolver
	found []checked
}

func (d *doctor) tell(check string, s state, found, do string) {
	d.found = append(d.found, checked{check, s, found, do})
}

// examine does every check that can be done.
func (d *doctor) examine(ctx context.Context) []checked {
	d.configuration()
	d.address()
	d.certificates()
	d.modes()
	d.diskSpace()
	if d.fresh() {
		d.tell("register", wrong, "there is none in "+d.Data,
			"Name its folder with --data, or start one with “gaugebook owner”.")
	} else if st := d.register(ctx); st != nil {
		d.insideRegister(ctx, st)
		if err := st.Close(); err != nil {
			d.tell("register", wrong, err.Error(), "")
		}
	}
	d.backupFolder()
	return d.found
}

func (d *doctor) configuration() {
	_, err := d.read()
	if err == nil {
		d.tell("configuration", well, "every setting can be read", "")
		return
	}
	errs := []error{err}
	if all, ok := err.(interface{ Unwrap() []error }); ok {
		errs = all.Unwrap()
	}
	for _, err := range errs {
		d.tell("configuration", wrong, err.Error(), "“gaugebook config” shows where each setting comes from.")
	}
}

// address judges what customers' links begin with.
func (d *doctor) address() {
	const check = "base URL"
	if d.BaseURL == "" && len(d.Hosts) > 0 {
		d.tell(check, well, "https://"+d.Hosts[0]+", the name of the certificate", "")
		return
	}
	if d.BaseURL == "" {
		d.tell(check, attention, "not set: links in mail and on paper lead to "+d.Listen+" on this machine",
			"Set --base-url to the https address that customers use.")
		return
	}
	if err := server.CheckBaseURL(d.BaseURL); err != nil {
		d.tell(check, wrong, err.Error(), "Set --base-url to the https address that customers use.")
		return
	}
	if u, err := url.Parse(d.BaseURL); err == nil && u.Scheme == "http" {
		d.tell(check, attention, d.BaseURL+" is for this machine only",
			"Set --base-url to the https address that customers use.")
		return
	}
	d.tell(check, well, d.BaseURL, "")
}

// certificates looks at those of a server that speaks https itself.
func (d *doctor) certificates() {
	for _, host := range d.Hosts {
		check := "certificate of " + host
		until, err := https.Expires(d.home.certificates(), host)
		left := until.Sub(d.now())
		switch {
		case err != nil:
			d.tell(check, wrong, err.Error(), "Remove the file, and start the server: it gets another.")
		case until.IsZero():
			d.tell(check, attention, "there is none yet", "Start the server, and look at /readyz: the name must lead to "+
				"this machine, and port 443 be reached from outside.")
		case left < 7*24*time.Hour:
			d.tell(check, wrong, "it ends on "+until.Format(time.RFC3339)+" and has not been renewed",
				"Look at /readyz and at the log for what keeps it.")
		default:
			d.tell(check, well, "it holds until "+until.Format(time.RFC3339), "")
		}
	}
}

// modes looks for what others on the machine can read or change.
func (d *doctor) modes() {
	const check = "file modes"
	open := 0
	err := filepath.WalkDir(d.Data, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := e.Info()
		if err != nil {
			return err
		}
		if loose := info.Mode().Perm() & 0o077; loose != 0 {
			if open++; open <= 5 {
				d.tell(check, wrong, fmt.Sprintf("%s has mode %#o: others on this machine can get at it", path,
					info.Mode().Perm()), fmt.Sprintf("chmod go= %q", path))
			}
		}
		return nil
	})
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		d.tell(check, wrong, err.Error(), "Run this as the user that the server runs as.")
	case open > 5:
		d.tell(check, wrong, fmt.Sprintf("and %d files more", open-5), fmt.Sprintf("chmod -R go= %q", d.Data))
	case open == 0:
		d.tell(check, well, "only its own user can read "+d.Data, "")
	}
	for _, file := range []string{d.SMTPFile, d.Passphrase} {
		// One that a group of its own may read is usual.
		if info, err := os.Stat(file); file != "" && err == nil && info.Mode().Perm()&0o037 != 0 {
			d.tell(check, wrong, fmt.Sprintf("%s holds a secret and has mode %#o", file, info.Mode().Perm()),
				fmt.Sprintf("chmod g=r,o= %q", file))
		}
	}
}

// The least room: a backup and the copy before an upgrade each need as much as
// the register, and SQLite some beside it.
const (
	leastRoom = 200 << 20
	goodRoom  = 1 << 30
)

func (d *doctor) diskSpace() {
	size := int64(0)
	if info, err := os.Stat(d.database()); err == nil {
		size = info.Size()
	}
	for _, dir := range []string{d.Data, d.Dir} {
		if dir == "" {
			continue
		}
		if _, err := os.Stat(dir); err != nil {
			continue // told elsewhere, or made when it is needed
		}
		free, err := freeBytes(dir)
		found := fmt.Sprintf("%s free in %s; the register has %s", megabytes(free), dir, megabytes(size))
		switch {
		case err != nil:
			d.tell("disk space", note, fmt.Sprintf("not known for %s: %v", dir, err), "")
		case free < max(leastRoom, size):
			d.tell("disk space", wrong, found, "Make room: nothing can be saved on a full disk.")
		case free < max(goodRoom, 3*size):
			d.tell("disk space", attention, found, "Make room for the copy before an upgrade, and for backups.")
		default:
			d.tell("disk space", well, found, "")
		}
	}
}

func megabytes(n int64) string { return fmt.Sprintf("%.1f MB", float64(n)/1e6) }

// backupFolder looks for the newest backup.
func (d *doctor) backupFolder() {
	const check = "backups"
	if d.Dir == "" {
		d.tell(check, attention, "the server makes none", "Name a folder on another disk with --backup-dir, or see to "+
			"it that “gaugebook backup” is run.")
		return
	}
	if within(d.Dir, d.Data) {
		d.tell(check, attention, d.Dir+" is inside the folder of the register: one disk loses both",
			"Name a folder on another disk.")
	}
	at, err := backup.Newest(d.Dir)
	late := d.now().Sub(at) > 2*d.Every
	switch {
	case err != nil:
		d.tell(check, wrong, err.Error(), "Let the server's user write to "+d.Dir+".")
	case at.IsZero():
		d.tell(check, attention, "there is none in "+d.Dir, "Start the server with --backup-dir, and look at /readyz.")
	case late:
		d.tell(check, wrong, fmt.Sprintf("the newest is of %s, and one is due every %s", at.Format(time.RFC3339),
			d.Every), "Look at /readyz and at the log for what keeps it.")
	default:
		d.tell(check, well, "the newest is of "+at.Format(time.RFC3339), "")
	}
	if len(d.Recipients) == 0 {
		d.tell(check, note, "they are not encrypted: whoever has one can read it",
			"“gaugebook key for-backups” makes the keys, --backup-recipient has them used.")
	}
}

// within reports whether a folder is another or lies in it.
func within(dir, in string) bool {
	dir, err1 := filepath.Abs(dir)
	in, err2 := filepath.Abs(in)
	rel, err := filepath.Rel(in, dir)
	return errors.Join(err, err1, err2) == nil && filepath.IsLocal(rel)
}

// register opens the register to read, or says why it cannot.
func (d *doctor) register(ctx context.Context) *store.Store {
	const check = "schema"
	have, newest, err := store.Schema(ctx, d.database())
	switch {
	case err != nil:
		d.tell("register", wrong, err.Error(), "If the file is damaged, restore a backup into an empty folder: "+
			"“gaugebook restore”.")
		return nil
	case have > newest:
		d.tell(check, wrong, fmt.Sprintf("the register has schema %d, this program knows up to %d", have, newest),
			"Use the newer program, or go back with it: “gaugebook undo-upgrade”.")
		return nil
	case have < newest:
		d.tell(check, note, fmt.Sprintf("the register has schema %d; a server of this program upgrades it to %d", have,
			newest), "A copy is kept first; “gaugebook undo-upgrade” goes back to it while nothing was done since.")
	default:
		d.tell(check, well, fmt.Sprintf("%d, that of this program", have), "")
	}
	st, err := store.OpenToRead(ctx, store.Options{Path: d.database()})
	if err != nil {
		d.tell("register", wrong, err.Error(), "“gaugebook audit” tells what is wrong with it.")
		return nil
	}
	return st
}
