package main

import (
	"bytes"
	"crypto/ed25519"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"gaugebook/records"
	"gaugebook/records/store"
)

type exportCommand struct {
	home
	Out string `arg:"" help:"File to write, JSON lines; it must not exist yet."`
}

// Run writes to a file beside the one named, which gets its name only when it
// is whole.
func (c *exportCommand) Run(e *env) (err error) {
	st, err := c.toRead(e.ctx)
	if err != nil {
		return err
	}
	defer st.Close()
	key, err := c.readKey(c.keyFile())
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if _, err := os.Lstat(c.Out); !errors.Is(err, fs.ErrNotExist) {
		return &records.Error{Kind: records.Conflict, Field: "<out>", Value: c.Out,
			Msg: "there is a file of that name, and an export never overwrites one"}
	}
	f, err := os.CreateTemp(filepath.Dir(c.Out), ".export-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	n, err := st.Bulk.ExportSigned(e.ctx, f, e.now(), key)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	if err := os.Link(f.Name(), c.Out); err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stdout, "The register is in %s, %d lines. It holds names, addresses and what was "+
		"measured in people's homes: keep it as you keep the register.\nPasswords, keys, customers' links, photos' "+
		"pictures, the audit log and outgoing mail are not in it. Keep %s with it: what was issued is proved by it.\n",
		c.Out, n, c.keyFile())
	return err
}

type importCommand struct {
	home
	In string `arg:"" help:"File that “gaugebook export” wrote."`
}

// Run takes a whole register into an empty one, or leaves nothing behind.
func (c *importCommand) Run(e *env) error {
	in, err := os.Open(c.In)
	if err != nil {
		return err
	}
	defer in.Close()
	fresh := c.fresh()
	_, keyErr := os.Stat(c.keyFile())
	key, err := c.key(fresh)
	if err != nil {
		return err
	}
	count, err := c.restore(e, in, key.Public().(ed25519.PublicKey))
	if err != nil {
		var made []string
		if fresh {
			made = append(made, c.database(), c.database()+"-wal", c.database()+"-shm")
		}
		if errors.Is(keyErr, fs.ErrNotExist) && fresh {
			made = append(made, c.keyFile())
		}
		return errors.Join(err, removeAll(made))
	}
	var parts []string
	for kind, n := range count {
		parts = append(parts, fmt.Sprintf("  %s: %d", kind, n))
	}
	sort.Strings(parts)
	_, err = fmt.Fprintf(e.stdout, "The register in %s now holds\n%s\nEvery seal holds. Nobody has a password yet: "+
		"“gaugebook owner --data %s” with the name and e-mail address of an owner asks for one.\n", c.Data,
		strings.Join(parts, "\n"), c.Data)
	return err
}

func (c *importCommand) restore(e *env, in *os.File, ours ed25519.PublicKey) (map[string]int, error) {
	st, err := c.open(e.ctx, e.now)
	if err != nil {
		return nil, err
	}
	defer st.Close()
	return st.Bulk.Restore(e.ctx, commandLine, store.RestoreOptions{
		Source: filepath.Base(c.In),
		Seals:  func(seal records.Seal, _ []byte) bool { return bytes.Equal(seal.PublicKey, ours) },
	}, in)
}

func removeAll(names []string) error {
	var errs []error
	for _, name := range names {
		if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}
