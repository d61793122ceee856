package main

import (
	"bytes"
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

	"gaugebook/records"
	"gaugebook/records/store"
)

// commandLine is who does what a command does.
var commandLine = records.Actor{Name: "command line"}

// home is the folder that holds everything a register consists of.
type home struct {
	Data       string `env:"GAUGEBOOK_DATA" default:"data" help:"Folder with the register, the firm's key and outgoing mail." type:"path"`
	Passphrase string `name:"key-passphrase-file" env:"GAUGEBOOK_KEY_PASSPHRASE_FILE" help:"File with the passphrase of the firm's key, where it has one; or set GAUGEBOOK_KEY_PASSPHRASE." type:"path" placeholder:"FILE"`
}

func (h home) database() string     { return filepath.Join(h.Data, "register.db") }
func (h home) keyFile() string      { return filepath.Join(h.Data, "firm.key") }
func (h home) mailDir() string      { return filepath.Join(h.Data, "mail") }
func (h home) bounces() string      { return filepath.Join(h.Data, "bounces") }
func (h home) certificates() string { return filepath.Join(h.Data, "certificates") }
func (h home) signIns() string      { return filepath.Join(h.Data, "sign-ins.txt") }

// open opens the register, making it when there is none.
func (h home) open(ctx context.Context, now func() time.Time) (*store.Store, error) {
	return h.openWith(ctx, store.Options{Now: now})
}

// openKnown opens a register that must be there.
func (h home) openKnown(e *env) (*store.Store, error) {
	if h.fresh() {
		return nil, h.noRegister()
	}
	return h.open(e.ctx, e.now)
}

// openToFill opens a new register that is thrown away if filling it fails.
func (h home) openToFill(ctx context.Context, now func() time.Time) (*store.Store, error) {
	return h.openWith(ctx, store.Options{Now: now, Unsynced: true})
}

// openWith opens the register. If it has to be upgraded for that, no server may
// be using it.
func (h home) openWith(ctx context.Context, opt store.Options) (st *store.Store, err error) {
	if !h.fresh() {
		have, newest, err := store.Schema(ctx, h.database())
		if err != nil {
			return nil, err
		}
		if have < newest {
			release, err := h.lock()
			if err != nil {
				return nil, err
			}
			defer func() { err = errors.Join(err, release()) }()
		}
	}
	return h.openLocked(ctx, opt)
}

// key reads the firm's signing key, making one for a new register. A register
// that has lost its key must not silently get another: nothing issued before
// would verify.
func (h home) key(fresh bool) (ed25519.PrivateKey, error) {
	key, err := h.readKey(h.keyFile())
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
	if err := os.MkdirAll(h.Data, 0o700); err != nil {
		return nil, err
	}
	return key, h.writeKey(h.keyFile(), key)
}

// firstKey reads the first key of some PEM blocks and returns what follows it.
func firstKey[K any](name string, data []byte, parse func(der []byte) (any, error)) (none K, rest []byte, err error) {
	block, rest := pem.Decode(data)
	if block == nil {
		return none, nil, fmt.Errorf("%s is not a key in PEM form", name)
	}
	parsed, err := parse(block.Bytes)
	if err != nil {
		return none, nil, fmt.Errorf("%s: %w", name, err)
	}
	key, ok := parsed.(K)
	if !ok {
		return none, nil, fmt.Errorf("%s is not an Ed25519 key", name)
	}
	return key, rest, nil
}

// readPublicKeys reads public keys in PEM form, the newest first, as the
// server's verification page gives them.
func readPublicKeys(name string) (out []ed25519.PublicKey, err error) {
	data, err := os.ReadFile(name)
	for err == nil && (out == nil || len(bytes.TrimSpace(data)) > 0) {
		var key ed25519.PublicKey
		if key, data, err = firstKey[ed25519.PublicKey](name, data, x509.ParsePKIXPublicKey); err == nil {
			out = append(out, key)
		}
	}
	return out, err
}

// fresh reports whether there is no register yet.
func (h home) fresh() bool {
	_, err := os.Stat(h.database())
	return errors.Is(err, fs.ErrNotExist)
}
