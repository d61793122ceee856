package main

import (
	"context"
	"crypto/ed25519"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
)

// writeNew writes a private file that must not be there yet.
func writeNew(name string, data []byte) error {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	return errors.Join(err, f.Sync(), f.Close())
}

// fittingKey returns the key if it is the one that the register was sealed with
// last. A change of keys that was broken off is brought to its end.
func (h home) fittingKey(ctx context.Context, st *store.Store, key ed25519.PrivateKey) (ed25519.PrivateKey, error) {
	wrong := st.Settings.FitsKey(ctx, key.Public().(ed25519.PublicKey))
	if wrong == nil {
		return key, nil
	}
	next, err := h.readKey(h.nextKey())
	if err != nil || st.Settings.FitsKey(ctx, next.Public().(ed25519.PublicKey)) != nil {
		return nil, fmt.Errorf("%s: %w", h.keyFile(), wrong)
	}
	return next, h.putInPlace(key)
}

func (h home) nextKey() string { return h.keyFile() + ".next" }

// putInPlace makes the next key the firm's and puts the old one aside.
func (h home) putInPlace(old ed25519.PrivateKey) error {
	if err := os.Rename(h.keyFile(), h.oldKey(old)); err != nil {
		return err
	}
	return os.Rename(h.nextKey(), h.keyFile())
}

func (h home) oldKey(old ed25519.PrivateKey) string {
	return h.keyFile() + "." + records.KeyName(old.Public().(ed25519.PublicKey)) + ".old"
}

type keyCommand struct {
	Change    keyChangeCommand `cmd:"" help:"Make a new key for the firm; what was sealed with the old one keeps proving."`
	Protect   protectCommand   `cmd:"" help:"Protect the firm's key with a passphrase, so that a copy of the folder alone signs nothing."`
	Unprotect unprotectCommand `cmd:"" help:"Take the passphrase off the firm's key again."`
	For       identityCommand  `cmd:"" name:"for-backups" help:"Make the keys of encrypted backups: the server gets the public one, the file opens them."`
}

type keyChangeCommand struct {
	home
	BaseURL string `name:"base-url" env:"GAUGEBOOK_BASE_URL" help:"Address under which customers reach the server; needed where records have not been printed yet."`
}

// Run hands over from the key in the folder to a new one. What was issued and
// not printed yet is printed first, since a paper carries one key.
func (c *keyChangeCommand) Run(e *env) (err error) {
	if c.fresh() {
		return c.noRegister()
	}
	release, err := c.lock()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	old, err := c.readKey(c.keyFile())
	if err != nil {
		return err
	}
	st, err := c.openLocked(e.ctx, store.Options{})
	if err != nil {
		return err
	}
	defer st.Close()
	if old, err = c.fittingKey(e.ctx, st, old); err != nil {
		return err
	}
	if err := c.printAll(e.ctx, st, old); err != nil {
		return err
	}
	_, next, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		return err
	}
	// One that was made and never used is in nobody's hands.
	if err := os.Remove(c.nextKey()); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := c.writeKey(c.nextKey(), next); err != nil {
		return err
	}
	if err := st.Settings.ChangeKey(e.ctx, commandLine, old, next); err != nil {
		return errors.Join(err, os.Remove(c.nextKey()))
	}
	if err := c.putInPlace(old); err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stdout, "The firm's key is now %s; records sealed with %s keep proving.\nKeep a copy of %s "+
		"apart from your backups, publish the new key from the verification page, and put %s where nobody can use it: "+
		"nothing needs it any more.\n", records.KeyName(next.Public().(ed25519.PublicKey)),
		records.KeyName(old.Public().(ed25519.PublicKey)), c.keyFile(), c.oldKey(old))
	return err
}

func (c *keyChangeCommand) printAll(ctx context.Context, st *store.Store, key ed25519.PrivateKey) error {
	ids, err := st.Records.Unprinted(ctx)
	if err != nil || len(ids) == 0 {
		return err
	}
	if c.BaseURL == "" {
		return fmt.Errorf("%d records have not been printed yet and carry the address of your server: give it with "+
			"--base-url", len(ids))
	}
	zone, err := time.LoadLocation(defaultZone)
	if err != nil {
		return err
	}
	cases := &app.App{Store: st, Key: key, BaseURL: c.BaseURL, Now: time.Now, Zone: zone}
	for _, id := range ids {
		if _, err := cases.PDF(ctx, id); err != nil {
			return err
		}
	}
	return nil
}
