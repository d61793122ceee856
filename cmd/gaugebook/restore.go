package main

import (
	"bufio"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"filippo.io/age"

	"gaugebook/pdf"
	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/backup"
)

type restoreCommand struct {
	home
	From     string `arg:"" help:"The backup: a .db or .db.age file." type:"existingfile"`
	Photos   string `help:"Folder of the backup's photos; default beside it." type:"existingdir" placeholder:"DIR"`
	Key      string `help:"The firm's key, unless it lies in --data already." type:"existingfile" placeholder:"FILE"`
	Identity string `help:"File with the identity that opens an encrypted backup." type:"existingfile" placeholder:"FILE"`
	Highest  string `help:"Highest number on any paper that left the firm, or “none” when nothing was issued after the backup; asked for if missing." placeholder:"NUMBER"`
	Paper    string `help:"PDF of the newest record that anybody has, to read that number from." type:"existingfile" placeholder:"FILE"`
	Despite  bool   `name:"despite-flaws" help:"Restore although the audit finds flaws or photos are missing; they are named."`
}

// Run restores into an empty folder, or leaves nothing behind.
func (c *restoreCommand) Run(e *env) (err error) {
	release, err := c.lock()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	if err := c.mustBeEmpty(); err != nil {
		return err
	}
	key, err := c.firmKey()
	if err != nil {
		return err
	}
	identities, err := c.identities()
	if err != nil {
		return err
	}
	dir, err := os.MkdirTemp(c.Data, ".restore-*")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	part := filepath.Join(dir, "register.db")
	sum, err := copyOut(c.From, part, identities)
	if err != nil {
		return err
	}
	if err := store.CheckFile(e.ctx, part); err != nil {
		return err
	}
	if err := c.copyPhotos(filepath.Join(dir, "photos"), identities); err != nil {
		return err
	}
	said, err := c.prepare(e, part, sum, key)
	if err != nil {
		return err
	}
	if err := c.putInPlace(dir, key); err != nil {
		return err
	}
	_, err = fmt.Fprint(e.stdout, said)
	return err
}

// mustBeEmpty refuses a folder that holds a register, or something of one.
func (c *restoreCommand) mustBeEmpty() error {
	for _, name := range []string{c.database(), c.database() + "-wal", filepath.Join(c.Data, "photos")} {
		if _, err := os.Lstat(name); !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s is there: a backup is restored into an empty folder only; name one with --data", name)
		}
	}
	return nil
}

func (c *restoreCommand) firmKey() (ed25519.PrivateKey, error) {
	name := c.Key
	if name == "" {
		name = c.keyFile()
	}
	key, err := c.readKey(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("the firm's key is not in %s: name the file with --key; it is not part of a backup",
			c.Data)
	}
	return key, err
}

func (c *restoreCommand) identities() ([]age.Identity, error) {
	if c.Identity == "" {
		return nil, nil
	}
	f, err := os.Open(c.Identity)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	ids, err := age.ParseIdentities(f)
	if err != nil {
		return nil, fmt.Errorf("--identity %s: %w", c.Identity, err)
	}
	return ids, nil
}

// copyOut copies a file of a backup, opened if it is encrypted, and returns the
// SHA-256 of what it holds. One that was cut off is an error.
func copyOut(from, to string, identities []age.Identity) (sum string, err error) {
	in, err := backup.Open(from, identities)
	if err != nil {
		return "", err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	_, err = io.Copy(io.MultiWriter(out, h), in)
	if err = errors.Join(err, out.Sync(), out.Close()); err != nil {
		return "", fmt.Errorf("reading %s: %w", from, err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// copyPhotos copies every photo of the backup; the audit reads them.
func (c *restoreCommand) copyPhotos(to string, identities []age.Identity) error {
	from := c.Photos
	for _, beside := range []string{strings.TrimSuffix(c.From, backup.Encrypted) + ".photos",
		filepath.Join(filepath.Dir(c.From), "photos")} {
		if info, err := os.Stat(beside); from == "" && err == nil && info.IsDir() {
			from = beside
		}
	}
	if from == "" {
		return nil
	}
	files, err := filepath.Glob(filepath.Join(from, "??", "*.jpg*"))
	if err != nil {
		return err
	}
	for _, file := range files {
		name := filepath.Join(to, filepath.Base(filepath.Dir(file)), strings.TrimSuffix(filepath.Base(file),
			backup.Encrypted))
		if err := os.MkdirAll(filepath.Dir(name), 0o700); err != nil {
			return err
		}
		if _, err := copyOut(file, name, identities); err != nil && !errors.Is(err, fs.ErrExist) {
			return err
		}
	}
	return nil
}

// prepare proves the copy and makes it fit for use.
func (c *restoreCommand) prepare(e *env, part, sum string, key ed25519.PrivateKey) (said string, err error) {
	st, err := store.Open(e.ctx, store.Options{Path: part, Now: e.now})
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	if err := st.Settings.FitsKey(e.ctx, key.Public().(ed25519.PublicKey)); err != nil {
		return "", err
	}
	keys, err := st.Settings.Keys(e.ctx, key.Public().(ed25519.PublicKey))
	if err != nil {
		return "", err
	}
	p, err := st.Audit.Prove(e.ctx, proofOptions(keys))
	if err != nil {
		return "", err
	}
	if !tellFlaws(e, p) && !c.Despite {
		return "", errors.New("nothing was restored: what is named above does not prove. Take another backup, or add " +
			"--despite-flaws")
	}
	highest, err := c.highest(e, keys)
	if err != nil {
		return "", err
	}
	out, err := st.AfterRestore(e.ctx, commandLine, store.RestoredFrom{
		File: filepath.Base(c.From), SHA256: sum, Highest: highest, Key: key})
	if err != nil {
		return "", err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "The register is in %s: %d issued records, their seals proved, its log up to entry %d.\nEverybody "+
		"has to sign in again.\n", c.Data, p.Records, out.LogEntry)
	if out.Unsure > 0 {
		fmt.Fprintf(&b, "%d messages that were due may have gone out after the backup: they are under Messages, "+
			"unsure, and go out when somebody says so.\n", out.Unsure)
	}
	if out.Automatic {
		fmt.Fprintln(&b, "Reminders were sent automatically, and may have been after the backup. That is off: look at "+
			"who was reminded and switch it on again under Firm, Reminders.")
	}
	if highest != "" {
		fmt.Fprintf(&b, "Numbers up to %s are not given out again.\n", highest)
	}
	return b.String(), nil
}

// highest finds out up to which number papers are about.
func (c *restoreCommand) highest(e *env, keys []ed25519.PublicKey) (string, error) {
	if c.Paper != "" {
		file, err := os.ReadFile(c.Paper)
		if err != nil {
			return "", err
		}
		v, _, err := verifyWith(file, keys)
		if err != nil || v.Judgement != pdf.Genuine {
			return "", errors.Join(err, fmt.Errorf("--paper %s: %s", c.Paper, v.Reason))
		}
		return v.Number, nil
	}
	text := c.Highest
	if text == "" {
		fmt.Fprint(e.stderr, "Highest number on any paper that left the firm, such as 2026-00042, or “none” "+
			"when nothing was issued after the backup: ")
		line, err := bufio.NewReader(e.stdin).ReadString('\n')
		if text = strings.TrimSpace(line); text == "" {
			return "", errors.Join(errors.New("without that number it would be given out twice: name it "+
				"with --highest or --paper"), ignoreEOF(err))
		}
	}
	if text == "none" {
		return "", nil
	}
	year, _, err := records.ParseNumber(text)
	if err == nil && year > e.now().Year() {
		err = &records.Error{Kind: records.Invalid, Field: "--highest", Value: text,
			Want: "a number of this year or before"}
	}
	return text, err
}

func ignoreEOF(err error) error {
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}

// putInPlace gives everything its name, the register last: until then the folder
// holds none.
func (c *restoreCommand) putInPlace(dir string, key ed25519.PrivateKey) error {
	if _, err := os.Stat(filepath.Join(dir, "photos")); err == nil {
		if err := os.Rename(filepath.Join(dir, "photos"), filepath.Join(c.Data, "photos")); err != nil {
			return err
		}
	}
	if _, err := os.Stat(c.keyFile()); errors.Is(err, fs.ErrNotExist) {
		if err := c.writeKey(c.keyFile(), key); err != nil {
			return err
		}
	}
	if err := os.Rename(filepath.Join(dir, "register.db"), c.database()); err != nil {
		return err
	}
	return c.modes()
}

type identityCommand struct {
	File string `arg:"" help:"File to write the identity to; it must not exist yet."`
}

// Run makes the pair of keys of encrypted backups.
func (c *identityCommand) Run(e *env) error {
	id, err := age.GenerateX25519Identity()
	if err != nil {
		return err
	}
	if err := writeNew(c.File, []byte("# opens backups that were encrypted for "+id.Recipient().String()+"\n"+
		id.String()+"\n")); err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stdout, "%s\nGive that to the server as --backup-recipient. Keep %s away from the server, "+
		"twice: without it no backup can be read.\n", id.Recipient(), c.File)
	return err
}
