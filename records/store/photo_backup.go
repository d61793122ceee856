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

// PhotoBackup is what a backup of the pictures came to.
type PhotoBackup struct {
	Copied  int
	Damaged []string // files that are not what they are named after; not copied
	Missing []string // pictures that a record names and that are in no file
}

// Backup copies the pictures to a new folder beside a finished backup
// of the database, reads each back, and looks for every picture that a record
// in that backup names. A picture is kept before a record names it, so copying
// after the database leaves none out. Errors: Conflict when the folder is
// there already.
func (s Photos) Backup(ctx context.Context, database, dir string) (out PhotoBackup, err error) {
	return BackupPhotos(ctx, s.Dir(), database, dir)
}

// BackupPhotos is Backup of the pictures in a folder whose register is not open
// here.
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
