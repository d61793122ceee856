// Package backup keeps copies of a register that is in use: made when they are
// due, proved, encrypted if wished, and thrown away when there are newer ones
// enough.
package backup

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"filippo.io/age"

	"gaugebook/records"
	"gaugebook/records/store"
)

// Keeper makes the backups of a register.
type Keeper struct {
	Store *store.Store
	// Path is the file of the register.
	Path string
	Dir  string // that the backups go to
	Key  ed25519.PrivateKey
	// Recipients are whom backups are encrypted for; without any they are not.
	// Nothing on this machine can then read them.
	Recipients []age.Recipient
	Every      time.Duration
	Keep       int // copies of the register
	Now        func() time.Time

	flaws error // of the newest backup
}

// Encrypted is what the name of an encrypted file ends with.
const Encrypted = ".age"

const nameLayout = "20060102-150405"

// Run makes a backup if the newest one is older than Every. While the newest one
// shows flaws of the register, that is its error.
func (k *Keeper) Run(ctx context.Context) error {
	all, err := list(k.Dir)
	if err != nil {
		return err
	}
	if n := len(all); n > 0 && k.Now().Sub(all[n-1].at) < k.Every {
		return k.flaws
	}
	_, err = k.Write(ctx)
	return err
}

type made struct {
	name string
	at   time.Time
}

// Newest returns when the newest backup in a folder was made; the zero time if
// there is none.
func Newest(dir string) (at time.Time, err error) {
	all, err := list(dir)
	if err != nil || len(all) == 0 {
		return time.Time{}, err
	}
	return all[len(all)-1].at, nil
}

// list returns the backups in a folder, the oldest first.
func list(dir string) (out []made, err error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	for _, e := range entries {
		stamp, ok := strings.CutPrefix(strings.TrimSuffix(e.Name(), Encrypted), "register-")
		stamp, isDB := strings.CutSuffix(stamp, ".db")
		if at, terr := time.Parse(nameLayout, stamp); ok && isDB && terr == nil {
			out = append(out, made{e.Name(), at})
		}
	}
	slices.SortFunc(out, func(a, b made) int { return a.at.Compare(b.at) })
	return out, err
}

// Write makes a backup and returns the name of its file. The copy is read
// through and proved before it is encrypted and gets its name; older ones than
// Keep are removed after that. A copy of a register with flaws is kept like any
// other, and the flaws are the error.
func (k *Keeper) Write(ctx context.Context) (name string, err error) {
	if err := os.MkdirAll(k.Dir, 0o700); err != nil {
		return "", err
	}
	dir, err := os.MkdirTemp(k.Dir, ".part-*")
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	at := k.Now().UTC()
	plain := filepath.Join(dir, "register.db")
	if err := store.BackupFile(ctx, k.Path, plain); err != nil {
		return "", err
	}
	head, flaws, err := k.prove(ctx, plain, at)
	if err != nil {
		return "", err
	}
	if err := k.photos(ctx); err != nil {
		return "", err
	}
	name = filepath.Join(k.Dir, "register-"+at.Format(nameLayout)+".db")
	if err := writeWhole(LogFile(name), bytes.NewReader(head), nil); err != nil {
		return "", err
	}
	if name, err = k.put(plain, name); err != nil {
		return "", err
	}
	k.flaws = flaws
	return name, errors.Join(flaws, k.rotate())
}

// LogFile is where the newest entry of a backup's log is written down, signed.
func LogFile(backup string) string { return strings.TrimSuffix(backup, Encrypted) + ".log.json" }

// prove reads the whole copy and writes down where its log ends.
func (k *Keeper) prove(ctx context.Context, copied string, at time.Time) (head []byte, flaws, err error) {
	st, err := store.OpenToRead(ctx, store.Options{Path: copied})
	if err != nil {
		return nil, nil, err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	keys, err := st.Settings.Keys(ctx, k.Key.Public().(ed25519.PublicKey))
	if err != nil {
		return nil, nil, err
	}
	p, err := st.Audit.Prove(ctx, store.ProofOptions{Keys: keys})
	if err != nil {
		return nil, nil, err
	}
	if len(p.Flaws) > 0 {
		flaws = fmt.Errorf("the register does not prove: %w", errors.Join(p.Flaws...))
	}
	if p.Head == nil {
		return []byte("{}\n"), flaws, nil
	}
	head, err = json.Marshal(map[string]any{"audit_log": records.SignHead(*p.Head, at, k.Key)})
	return append(head, '\n'), flaws, err
}

// put gives the copy its name, encrypted if there is anybody to encrypt for.
func (k *Keeper) put(plain, name string) (string, error) {
	if len(k.Recipients) > 0 {
		name += Encrypted
	}
	in, err := os.Open(plain)
	if err != nil {
		return "", err
	}
	defer in.Close()
	return name, writeWhole(name, in, k.Recipients)
}

// photos copies the pictures that no earlier backup has: they never change.
func (k *Keeper) photos(ctx context.Context) error {
	files, err := filepath.Glob(filepath.Join(k.Store.Photos.Dir(), "??", "*.jpg"))
	if err != nil {
		return err
	}
	var damaged []error
	for _, file := range files {
		if err := ctx.Err(); err != nil {
			return err
		}
		sum := strings.TrimSuffix(filepath.Base(file), ".jpg")
		to := filepath.Join(k.Dir, "photos", sum[:2], filepath.Base(file))
		if len(k.Recipients) > 0 {
			to += Encrypted
		}
		if _, err := os.Stat(to); err == nil {
			continue
		}
		data, err := k.Store.Photos.Picture(sum)
		if err != nil {
			damaged = append(damaged, err)
			continue
		}
		if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
			return err
		}
		if err := writeWhole(to, bytes.NewReader(data), k.Recipients); err != nil {
			return err
		}
	}
	return errors.Join(damaged...)
}

// rotate removes what is older than the newest copies.
func (k *Keeper) rotate() error {
	all, err := list(k.Dir)
	if err != nil || k.Keep < 1 {
		return err
	}
	for len(all) > k.Keep {
		name := filepath.Join(k.Dir, all[0].name)
		if err := os.Remove(name); err != nil {
			return err
		}
		if err := os.Remove(LogFile(name)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		all = all[1:]
	}
	return nil
}

// writeWhole writes a private file, which has its name only when all of it is on
// disk and was read back.
func writeWhole(name string, in io.Reader, to []age.Recipient) (err error) {
	f, err := os.CreateTemp(filepath.Dir(name), ".part-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	sum := sha256.New()
	var out io.WriteCloser = nopCloser{io.MultiWriter(f, sum)}
	if len(to) > 0 {
		if out, err = age.Encrypt(out, to...); err != nil {
			return errors.Join(err, f.Close())
		}
	}
	_, err = io.Copy(out, in)
	if err = errors.Join(err, out.Close(), f.Sync(), f.Close()); err != nil {
		return err
	}
	back, err := os.Open(f.Name())
	if err != nil {
		return err
	}
	again := sha256.New()
	_, err = io.Copy(again, back)
	if err = errors.Join(err, back.Close()); err != nil {
		return err
	}
	if !bytes.Equal(again.Sum(nil), sum.Sum(nil)) {
		return fmt.Errorf("%s: what was read back is not what was written", name)
	}
	return os.Rename(f.Name(), name)
}

type nopCloser struct{ io.Writer }

func (nopCloser) Close() error { return nil }

// Open opens a file of a backup; an encrypted one needs an identity. What is
// read may only be believed once it was read to its end without an error.
func Open(name string, identities []age.Identity) (io.ReadCloser, error) {
	f, err := os.Open(name)
	if err != nil || !strings.HasSuffix(name, Encrypted) {
		return f, err
	}
	if len(identities) == 0 {
		return nil, errors.Join(fmt.Errorf("%s is encrypted: name the file of its identity with --identity", name),
			f.Close())
	}
	r, err := age.Decrypt(f, identities...)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", name, err), f.Close())
	}
	return struct {
		io.Reader
		io.Closer
	}{r, f}, nil
}

// Recipients reads the public keys that backups are encrypted for.
func Recipients(texts []string) (out []age.Recipient, err error) {
	for _, text := range texts {
		r, err := age.ParseX25519Recipient(text)
		if err != nil {
			return nil, fmt.Errorf("%q: give a public key such as age1…, as “gaugebook key for-backups FILE” "+
				"prints it", text)
		}
		out = append(out, r)
	}
	return out, nil
}
