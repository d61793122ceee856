package main

import (
	"context"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"gaugebook/records/store"
)

// home is the folder that holds everything a register consists of.
type home struct {
	Data string `env:"GAUGEBOOK_DATA" default:"data" help:"Folder with the register, the firm's key and outgoing mail." type:"path"`
}

func (h home) database() string { return filepath.Join(h.Data, "register.db") }
func (h home) keyFile() string  { return filepath.Join(h.Data, "firm.key") }
func (h home) mailDir() string  { return filepath.Join(h.Data, "mail") }
func (h home) bounces() string  { return filepath.Join(h.Data, "bounces") }
func (h home) signIns() string  { return filepath.Join(h.Data, "sign-ins.txt") }

// open opens the register, making it when there is none.
func (h home) open(ctx context.Context, now func() time.Time) (*store.Store, error) {
	return h.openWith(ctx, store.Options{Now: now})
}

// openToFill opens a new register that is thrown away if filling it fails.
func (h home) openToFill(ctx context.Context, now func() time.Time) (*store.Store, error) {
	return h.openWith(ctx, store.Options{Now: now, Unsynced: true})
}

func (h home) openWith(ctx context.Context, opt store.Options) (*store.Store, error) {
	if err := os.MkdirAll(h.Data, 0o700); err != nil {
		return nil, err
	}
	opt.Path = h.database()
	return store.Open(ctx, opt)
}

// key reads the firm's signing key, making one for a new register. A register
// that has lost its key must not silently get another: nothing issued before
// would verify.
func (h home) key(fresh bool) (ed25519.PrivateKey, error) {
	key, err := readKey(h.keyFile())
	if !errors.Is(err, fs.ErrNotExist) {
		return key, err
	}
	if !fresh {
		return nil, fmt.Errorf("the firm's key %s is missing: restore it from your backup, without it nothing "+
			"issued can be proved", h.keyFile())
	}
	_, key, err = ed25519.GenerateKey(rand.Reader)
	if err != nil {
		return nil, err
	}
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(h.Data, 0o700); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(h.keyFile(), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, err
	}
	err = pem.Encode(f, &pem.Block{Type: "PRIVATE KEY", Bytes: der})
	if serr := f.Sync(); err == nil {
		err = serr
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return key, err
}

func readKey(name string) (ed25519.PrivateKey, error) {
	return readPEM[ed25519.PrivateKey](name, x509.ParsePKCS8PrivateKey)
}

// readPublicKey reads a public key in PEM form, as the server's verification
// page gives it.
func readPublicKey(name string) (ed25519.PublicKey, error) {
	return readPEM[ed25519.PublicKey](name, x509.ParsePKIXPublicKey)
}

// readPEM reads one key of the kind K from a file.
func readPEM[K any](name string, parse func(der []byte) (any, error)) (none K, err error) {
	data, err := os.ReadFile(name)
	if err != nil {
		return none, err
	}
	block, _ := pem.Decode(data)
	if block == nil {
		return none, fmt.Errorf("%s is not a key in PEM form", name)
	}
	parsed, err := parse(block.Bytes)
	if err != nil {
		return none, fmt.Errorf("%s: %w", name, err)
	}
	key, ok := parsed.(K)
	if !ok {
		return none, fmt.Errorf("%s is not an Ed25519 key", name)
	}
	return key, nil
}

// fresh reports whether there is no register yet.
func (h home) fresh() bool {
	_, err := os.Stat(h.database())
	return errors.Is(err, fs.ErrNotExist)
}
