package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"gaugebook/records"
)

// Dir is the folder of the pictures, beside the database. A picture is a
// file named by its SHA-256, so it never changes and is kept once however many
// records show it.
func (s Photos) Dir() string { return photoDir(s.opt.Path) }

func photoDir(database string) string { return filepath.Join(filepath.Dir(database), "photos") }

// picturePath is where a picture is: a folder for each first byte keeps the
// folders short. A name that is no SHA-256 could lead anywhere and is refused.
func picturePath(dir, sum string) (string, error) {
	if b, err := hex.DecodeString(sum); err != nil || len(b) != sha256.Size || strings.ToLower(sum) != sum {
		return "", notFound("picture", sum)
	}
	return filepath.Join(dir, sum[:2], sum+".jpg"), nil
}

func sumOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// Keep puts a picture into the folder and returns its SHA-256. When it
// returns, the picture is on disk under its name; until then it is not there
// at all.
func (s Photos) Keep(data []byte) (string, error) {
	sum := sumOf(data)
	return sum, writePicture(s.Dir(), sum, data)
}

func writePicture(dir, sum string, data []byte) (err error) {
	path, err := picturePath(dir, sum)
	if err != nil {
		return err
	}
	if old, err := os.ReadFile(path); err == nil && sumOf(old) == sum {
		// Kept as if new, so that Sweep leaves it alone until it is named.
		now := time.Now()
		return os.Chtimes(path, now, now)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return fmt.Errorf("keeping a picture: %w", err)
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".part-*")
	if err != nil {
		return fmt.Errorf("keeping a picture: %w", err)
	}
	defer func() {
		if err != nil {
			err = fmt.Errorf("keeping a picture: %w", errors.Join(err, os.Remove(f.Name())))
		}
	}()
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	if err = os.Rename(f.Name(), path); err != nil {
		return err
	}
	// The names of the picture, of its folder and of the folder of all.
	for _, d := range []string{filepath.Dir(path), dir, filepath.Dir(dir)} {
		if serr := syncDir(d); serr != nil {
			return fmt.Errorf("keeping a picture: %w", serr)
		}
	}
	return nil
}

// Picture returns a picture. Errors: NotFound; Internal when the file is not
// the picture it is named after.
func (s Photos) Picture(sum string) ([]byte, error) { return readPicture(s.Dir(), sum) }

func readPicture(dir, sum string) ([]byte, error) {
	path, err := picturePath(dir, sum)
	if err != nil {
		return nil, err
	}
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, notFound("picture", sum)
	}
	if err != nil {
		return nil, fmt.Errorf("reading a picture: %w", err)
	}
	if sumOf(data) != sum {
		return nil, records.Fail(records.Internal, "the picture "+sum+" is damaged")
	}
	return data, nil
}

// Has returns a NotFound error when there is no such picture.
func (s Photos) Has(sum string) error {
	path, err := picturePath(s.Dir(), sum)
	if err != nil {
		return err
	}
	if _, err := os.Stat(path); err != nil {
		return notFound("picture", sum)
	}
	return nil
}

// Sweep removes pictures that nothing names: no record or draft, no version put
// aside, no firm. Those kept since the time given are left alone, since a picture
// is kept before it is named. It returns how many.
func (s Photos) Sweep(ctx context.Context, keptBefore time.Time) (n int, err error) {
	files, err := filepath.Glob(filepath.Join(s.Dir(), "??", "*.jpg"))
	if err != nil {
		return 0, err
	}
	var old []string
	for _, name := range files {
		info, err := os.Stat(name)
		if err == nil && info.ModTime().Before(keptBefore) {
			old = append(old, name)
		}
	}
	if len(old) == 0 {
		return 0, nil
	}
	err = s.write(ctx, records.SystemActor, func(t *tx) error {
		// Within the transaction nobody begins to name one.
		var names []string
		if err := t.Raw(pictureNamesKept).Scan(&names).Error; err != nil {
			return err
		}
		named := map[string]bool{}
		for _, sum := range names {
			named[sum] = true
		}
		for _, name := range old {
			if named[strings.TrimSuffix(filepath.Base(name), ".jpg")] {
				continue
			}
			if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
			n++
		}
		if n == 0 {
			return nil
		}
		return t.log("photos of nothing removed", "photos", detail{"count": n})
	})
	return n, err
}
