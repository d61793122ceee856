package store

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"gaugebook/records"
)

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
