package mail

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// Folder keeps letters as .eml files in a directory instead of sending them:
// for trying things out, for a desk without a mail server, and for a mail
// program that collects them.
type Folder struct {
	Dir string // made if it is missing
}

// Send writes the letter as <ID>.eml. The name appears only when the content is
// complete and on disk; a crash leaves at most a hidden *.part file. A letter
// that is already there is left as it is and reported as handed over.
func (f Folder) Send(ctx context.Context, m Message) (Receipt, error) {
	data, err := Build(m)
	if err != nil {
		return Receipt{}, &Error{Class: Permanent, Stage: StageMessage, Err: err}
	}
	if err := ctx.Err(); err != nil {
		return Receipt{}, failure(StageFile, err)
	}
	if f.Dir == "" {
		return Receipt{}, failure(StageSettings, &FieldError{"Dir", f.Dir, "the path of a folder"})
	}
	path := filepath.Join(f.Dir, fileName(m.ID))
	receipt := Receipt{MessageID: m.MessageID(), Place: path}
	err = writeOnce(path, data)
	if errors.Is(err, fs.ErrExist) {
		receipt.AlreadyThere = true
		return receipt, nil
	}
	if err != nil {
		return Receipt{}, failure(StageFile, err)
	}
	return receipt, nil
}

// fileName needs no escaping: Validate allows an ID only letters, digits,
// hyphens, underscores and inner dots.
func fileName(id string) string { return id + ".eml" }

// writeOnce puts data at path, whole or not at all, and gives fs.ErrExist if
// something is there. A hard link, unlike a rename, never replaces a file that
// another process put there in the meantime.
func writeOnce(path string, data []byte) (err error) {
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	if _, err := os.Lstat(path); err == nil {
		return fs.ErrExist
	}
	temp, err := os.CreateTemp(dir, ".letter-*.part")
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(temp.Name()) }()
	_, err = temp.Write(data)
	if err == nil {
		err = temp.Sync()
	}
	if closeErr := temp.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return err
	}
	switch err := os.Link(temp.Name(), path); {
	case errors.Is(err, fs.ErrExist):
		return err
	case err != nil: // a file system without hard links
		if err := os.Rename(temp.Name(), path); err != nil {
			return err
		}
	}
	return syncDir(dir)
}

// syncDir makes the new name itself survive a power cut.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = d.Sync()
	return errors.Join(err, d.Close())
}
