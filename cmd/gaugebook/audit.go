package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"gaugebook/pdf"
	"gaugebook/pdf/seal"
	"gaugebook/records"
	"gaugebook/records/store"
)

type auditCommand struct {
	home
	Key     string   `help:"The firm's public key (PEM), from its verification page. Default: the key of the register." type:"existingfile" placeholder:"FILE"`
	Against []string `help:"Files from outside the register that name an entry of its log: PDFs of records, exports, the .log.json of backups, backups themselves." type:"existingfile" placeholder:"FILE"`
}

// Run proves the register and names everything that is wrong with it.
func (c *auditCommand) Run(e *env) error {
	st, err := c.toRead(e.ctx)
	if err != nil {
		return err
	}
	defer st.Close()
	keys, err := c.publicKeys(e.ctx, c.Key, st)
	if err != nil {
		return err
	}
	opt := proofOptions(keys)
	for _, name := range c.Against {
		head, err := headIn(e.ctx, name, keys)
		if err != nil {
			return fmt.Errorf("--against %s: %w", name, err)
		}
		opt.Known = append(opt.Known, head)
	}
	p, err := st.Audit.Prove(e.ctx, opt)
	if err != nil {
		return err
	}
	if !tellFlaws(e, p) {
		return nil
	}
	fmt.Fprintf(e.stdout, "Every entry of the audit log follows from the one before it: %d, signed for %d "+
		"times, the last %d of them not yet.\nEvery issued record is as it was sealed and as the log says, and no "+
		"number is missing: %d records, %d prints.\nTables, indexes and triggers are the program's.\n", p.Entries,
		p.Signed, p.Unsigned,
		p.Records, p.Prints)
	if len(opt.Known) > 0 {
		fmt.Fprintf(e.stdout, "The log is the one that the files from outside name: %d of %d.\n", len(opt.Known),
			len(opt.Known))
	}
	if keys == nil {
		fmt.Fprintln(e.stdout, "There is no key in the folder and none was given: seals were only held against the "+
			"key that they name themselves.")
	}
	if p.Head != nil {
		fmt.Fprintf(e.stdout,
			"The newest entry is %d, %s: written down elsewhere, it proves later that nothing was cut off.\n",
			p.Head.Entry, p.Head.Hash)
	}
	return nil
}

// tellFlaws names what is wrong and reports whether all is well.
func tellFlaws(e *env, p store.Proof) bool {
	for _, flaw := range p.Flaws {
		fmt.Fprintln(e.stderr, "gaugebook:", flaw)
	}
	if p.More > 0 {
		fmt.Fprintf(e.stderr, "gaugebook: and %d more\n", p.More)
	}
	if len(p.Flaws) > 0 {
		e.code = exitAdverse
	}
	return len(p.Flaws) == 0
}

// proofOptions hold everything against the keys, prints and photos too.
func proofOptions(keys []ed25519.PublicKey) store.ProofOptions {
	opt := store.ProofOptions{Keys: keys, Photos: true}
	opt.Print = func(number string, print []byte) error {
		among := keys
		if among == nil {
			if inside := keyInside(print); inside != nil {
				among = []ed25519.PublicKey{inside}
			}
		}
		v, _, err := verifyWith(print, among)
		switch {
		case err != nil:
			return err
		case v.Judgement != pdf.Genuine:
			return errors.New(v.Reason)
		case v.Number != number:
			return errors.New("it is that of record " + v.Number)
		}
		return nil
	}
	return opt
}

// verifyWith judges a file by whichever of the keys it was sealed with, and says
// which that was; the first if by none.
func verifyWith(file []byte, keys []ed25519.PublicKey) (first pdf.Verdict, by ed25519.PublicKey, err error) {
	for i, key := range keys {
		v, err := pdf.Verify(file, key)
		if err != nil || v.Judgement != pdf.OtherKey {
			return v, key, err
		}
		if i == 0 {
			first, by = v, key
		}
	}
	if keys == nil {
		first = pdf.Verdict{Judgement: pdf.NoSeal, Reason: "The file carries no seal."}
	}
	return first, by, nil
}

// headIn finds the entry of the log that a file from outside names.
func headIn(ctx context.Context, name string, keys []ed25519.PublicKey) (head records.LogHead, err error) {
	begin, err := beginOf(name)
	switch {
	case err != nil:
		return head, err
	case bytes.HasPrefix(begin, []byte("%PDF-")):
		return headOnPaper(name, keys)
	case bytes.HasPrefix(begin, []byte("SQLite format 3")):
		return headOfBackup(ctx, name)
	}
	var line struct {
		Log *records.SignedHead `json:"audit_log"`
	}
	if json.Unmarshal(begin, &line) != nil || line.Log == nil {
		return head, errors.New("it names no entry of the audit log")
	}
	for _, key := range keys {
		if line.Log.Holds(key) {
			return line.Log.LogHead, nil
		}
	}
	if keys == nil && line.Log.Holds(line.Log.PublicKey) {
		return line.Log.LogHead, nil
	}
	return head, errors.New("the entry that it names is not signed with the firm's key")
}

// beginOf reads the first line of a file.
func beginOf(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	line, err := bufio.NewReaderSize(f, 64<<10).ReadSlice('\n')
	if err != nil && len(line) == 0 {
		return nil, err
	}
	return line, nil
}

func headOnPaper(name string, keys []ed25519.PublicKey) (head records.LogHead, err error) {
	file, err := os.ReadFile(name)
	if err != nil {
		return head, err
	}
	if keys != nil {
		if v, _, err := verifyWith(file, keys); err != nil || v.Judgement != pdf.Genuine {
			return head, errors.Join(err, errors.New(v.Reason))
		}
	}
	files, err := seal.Attachments(file)
	if err != nil {
		return head, err
	}
	issued, err := records.DecodeIssued(files[pdf.RecordFile])
	if err != nil {
		return head, err
	}
	if issued.Log == nil {
		return head, errors.New("record " + issued.Number + " is of an earlier version and names no entry of the log")
	}
	return *issued.Log, nil
}

func headOfBackup(ctx context.Context, name string) (head records.LogHead, err error) {
	st, err := store.OpenToRead(ctx, store.Options{Path: name})
	if err != nil {
		return head, err
	}
	defer st.Close()
	head.Entry, head.Hash, err = st.Audit.Head(ctx)
	if err == nil && head.Entry == 0 {
		err = errors.New("its log is empty")
	}
	return head, err
}

// toRead opens a register that must be there, without changing it.
func (h home) toRead(ctx context.Context) (*store.Store, error) {
	if _, err := os.Stat(h.database()); err != nil {
		return nil, h.noRegister()
	}
	return store.OpenToRead(ctx, store.Options{Path: h.database()})
}

func (h home) noRegister() error {
	return fmt.Errorf("there is no register in %s: name its folder with --data", h.Data)
}

// publicKeys reads the firm's keys from a file or, if none is named, from the
// folder of the register, which knows the earlier ones; nil when there is none.
func (h home) publicKeys(ctx context.Context, file string, st *store.Store) ([]ed25519.PublicKey, error) {
	if file != "" {
		keys, err := readPublicKeys(file)
		if err != nil || len(keys) != 1 || st == nil {
			return keys, err
		}
		return st.Settings.Keys(ctx, keys[0])
	}
	key, err := h.readKey(h.keyFile())
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	newest := key.Public().(ed25519.PublicKey)
	if st == nil {
		return []ed25519.PublicKey{newest}, nil
	}
	return st.Settings.Keys(ctx, newest)
}
