package main

import (
	"bytes"
	"crypto/ed25519"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"os"
	"unicode/utf8"

	"filippo.io/age"
	"filippo.io/age/armor"
)

// keyPassphrase is where the passphrase of the firm's key may be.
const keyPassphrase = "GAUGEBOOK_KEY_PASSPHRASE"

// workFactor makes each guess at a passphrase cost 64 MB of memory and a good
// part of a second; more, and the smallest servers could not open it themselves.
const workFactor = 16

// leastPassphrase is how many characters one has at least: whoever has the file
// can guess for years.
const leastPassphrase = 16

func (h home) passphrase() (string, error) {
	return secretFrom("--key-passphrase-file", h.Passphrase, keyPassphrase)
}

// readKey reads a key from a file, with the passphrase if it is protected.
func (h home) readKey(name string) (ed25519.PrivateKey, error) {
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	if protected(data) {
		if data, err = h.opened(name, data); err != nil {
			return nil, err
		}
	}
	key, _, err := firstKey[ed25519.PrivateKey](name, data, x509.ParsePKCS8PrivateKey)
	return key, err
}

// protected reports whether the bytes of a key's file need a passphrase.
func protected(data []byte) bool { return bytes.HasPrefix(data, []byte(armor.Header)) }

func (h home) opened(name string, data []byte) ([]byte, error) {
	phrase, err := h.passphrase()
	if err != nil {
		return nil, err
	}
	if phrase == "" {
		return nil, fmt.Errorf("%s is protected by a passphrase: name the file that holds it with "+
			"--key-passphrase-file, or set %s", name, keyPassphrase)
	}
	id, err := age.NewScryptIdentity(phrase)
	if err != nil {
		return nil, err
	}
	id.SetMaxWorkFactor(22)
	r, err := age.Decrypt(armor.NewReader(bytes.NewReader(data)), id)
	var none *age.NoIdentityMatchError
	if errors.As(err, &none) {
		return nil, fmt.Errorf("%s: the passphrase is not the right one", name)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return io.ReadAll(r)
}

// writeKey writes a key to a new file that only its user can read; protected, if
// there is a passphrase.
func (h home) writeKey(name string, key ed25519.PrivateKey) error {
	phrase, err := h.passphrase()
	if err != nil {
		return err
	}
	return writeKeyWith(name, key, phrase)
}

func writeKeyWith(name string, key ed25519.PrivateKey, phrase string) error {
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return err
	}
	data := pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der})
	if phrase != "" {
		if data, err = sealedWith(phrase, data); err != nil {
			return err
		}
	}
	return writeNew(name, data)
}

func sealedWith(phrase string, data []byte) ([]byte, error) {
	if utf8.RuneCountInString(phrase) < leastPassphrase {
		return nil, fmt.Errorf("the passphrase of the key has fewer than %d characters: six words picked at random "+
			"are a good one", leastPassphrase)
	}
	to, err := age.NewScryptRecipient(phrase)
	if err != nil {
		return nil, err
	}
	to.SetWorkFactor(workFactor)
	var out bytes.Buffer
	text := armor.NewWriter(&out)
	w, err := age.Encrypt(text, to)
	if err != nil {
		return nil, err
	}
	_, err = w.Write(data)
	err = errors.Join(err, w.Close(), text.Close())
	return out.Bytes(), err
}

type protectCommand struct{ home }

// Run puts the same key in place of itself, protected.
func (c *protectCommand) Run(e *env) error {
	phrase, err := c.passphrase()
	if err != nil {
		return err
	}
	if phrase == "" {
		return fmt.Errorf("no passphrase: put one into a file that --key-passphrase-file names, or into %s",
			keyPassphrase)
	}
	if err := c.exchange(phrase); err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stdout, "%s needs the passphrase from now on: whoever starts the server gives it with "+
		"--key-passphrase-file or %s, from another place than %s.\nWithout it the key is lost, and with the key the "+
		"proof of what you issued: keep a copy of both, apart from each other. Copies made before are not protected.\n",
		c.keyFile(), keyPassphrase, c.Data)
	return err
}

type unprotectCommand struct{ home }

func (c *unprotectCommand) Run(e *env) error {
	if err := c.exchange(""); err != nil {
		return err
	}
	_, err := fmt.Fprintf(e.stdout, "%s needs no passphrase any more.\n", c.keyFile())
	return err
}

// exchange writes the key again, reads it back and puts it in the place of the
// file that was there.
func (h home) exchange(phrase string) (err error) {
	release, err := h.lock()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	key, err := h.readKey(h.keyFile())
	if err != nil {
		return err
	}
	other := h.keyFile() + ".part"
	if err := os.Remove(other); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if err := writeKeyWith(other, key, phrase); err != nil {
		return err
	}
	back, err := h.readKey(other)
	if err == nil && !back.Equal(key) {
		err = errors.New("the key was not read back as it was written")
	}
	if err != nil {
		return errors.Join(err, os.Remove(other))
	}
	return os.Rename(other, h.keyFile())
}
