package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"gaugebook/records"
)

// BackupFile writes a copy of the database in a file, as it stands at one
// moment, to a new file, while a store may be using it. The copy is checked, and
// only then given its name. It changes nothing, so the copy has the schema that
// the file has, whichever version wrote it. Errors: Conflict when there is a file
// of that name.
func BackupFile(ctx context.Context, from, path string) (err error) {
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return &records.Error{Kind: records.Conflict, Field: "path", Label: "Backup file", Value: path,
			Msg: "there is a file of that name, and a backup never overwrites one"}
	}
	dir, err := os.MkdirTemp(filepath.Dir(path), ".backup-*")
	if err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	file, clean, err := dbFile(from).readable(ctx)
	if err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	defer func() { err = errors.Join(err, clean()) }()
	part := filepath.Join(dir, "part.db")
	if err := copyTo(ctx, string(file), part); err != nil {
		return fmt.Errorf("backup to %s: %w", path, err)
	}
	// A link fails if the name was taken meanwhile, which a rename would not.
	if err := os.Link(part, path); err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	return syncDir(filepath.Dir(path))
}

func syncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// PhotoBackup is what a backup of the pictures came to.
type PhotoBackup struct {
	Copied  int
	Damaged []string // files that are not what they are named after; not copied
	Missing []string // pictures that a record names and that are in no file
}

// BackupPhotos copies the pictures of a folder to a new one beside a finished
// backup of the database, reads each back, and looks for every picture that a
// record in that backup names. A picture is kept before a record names it, so
// copying after the database leaves none out. Errors: Conflict when the folder is
// there already.
func BackupPhotos(ctx context.Context, from, database, dir string) (out PhotoBackup, err error) {
	if err := os.Mkdir(dir, 0o700); err != nil {
		if errors.Is(err, fs.ErrExist) {
			return out, &records.Error{Kind: records.Conflict, Field: "path", Label: "Folder of the photos", Value: dir,
				Msg: "there is something of that name, and a backup never overwrites"}
		}
		return out, fmt.Errorf("backup of the photos: %w", err)
	}
	files, err := filepath.Glob(filepath.Join(from, "??", "*.jpg"))
	if err != nil {
		return out, err
	}
	for _, name := range files {
		if err := ctx.Err(); err != nil {
			return out, err
		}
		sum := filepath.Base(name)
		sum = sum[:len(sum)-len(".jpg")]
		data, err := readPicture(from, sum)
		if err != nil {
			out.Damaged = append(out.Damaged, name)
			continue
		}
		if err := writePicture(dir, sum, data); err != nil {
			return out, err
		}
		if _, err := readPicture(dir, sum); err != nil {
			return out, err
		}
		out.Copied++
	}
	named, err := namedPictures(ctx, database)
	if err != nil {
		return out, err
	}
	for _, sum := range named {
		path, err := picturePath(dir, sum)
		if err != nil {
			return out, err
		}
		if _, err := os.Stat(path); err != nil {
			out.Missing = append(out.Missing, sum)
		}
	}
	return out, nil
}
