package worker

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"gaugebook/records"
	"gaugebook/server/app"
)

// BounceFolder takes in the reports that a mail program, or a person, puts
// into a folder as .eml files. What was read is moved to “read” under it, what
// could not be to “left”, so that nobody reads it twice.
type BounceFolder struct {
	Dir   string
	App   *app.App
	Log   *slog.Logger
	Every time.Duration // how often to look; zero means half a minute
	Now   func() time.Time
}

// settling is how old a file must be before it counts as written whole.
const settling = 2 * time.Second

// largestBounce is more than a report with the message that came back needs.
const largestBounce = 25 << 20

// Job returns the folder as the group looks into it.
func (f *BounceFolder) Job() Job {
	return Job{Name: "bounces", Every: cmp.Or(f.Every, 30*time.Second), Recover: f.makeFolders, Run: f.TakeIn}
}

func (f *BounceFolder) makeFolders(context.Context) error {
	for _, dir := range []string{f.Dir, filepath.Join(f.Dir, "read"), filepath.Join(f.Dir, "left")} {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return fmt.Errorf("folder for reports of non-delivery: %w", err)
		}
	}
	return nil
}

// TakeIn takes in what is in the folder now.
func (f *BounceFolder) TakeIn(ctx context.Context) error {
	if _, err := os.Stat(f.Dir); err != nil { // Glob would only find nothing
		return err
	}
	names, err := filepath.Glob(filepath.Join(f.Dir, "*.eml"))
	if err != nil {
		return err
	}
	var errs []error
	for _, name := range names {
		info, err := os.Stat(name)
		if errors.Is(err, fs.ErrNotExist) || err == nil && f.Now().Sub(info.ModTime()) < settling {
			continue
		}
		if err == nil {
			err = f.take(ctx, name)
		}
		errs = append(errs, err)
	}
	return errors.Join(errs...)
}

func (f *BounceFolder) take(ctx context.Context, name string) error {
	file, err := os.Open(name)
	if err != nil {
		return err
	}
	b, m, err := f.App.TakeBounce(ctx, records.SystemActor, io.LimitReader(file, largestBounce))
	if cerr := file.Close(); cerr != nil {
		return cerr
	}
	to := "read"
	if err != nil {
		if records.KindOf(err) == records.Internal {
			return err // such as a full disk: tried again later
		}
		to = "left"
		f.Log.Warn("a report of non-delivery was not used", "file", filepath.Base(name), "why", err)
	} else {
		f.Log.Info("report of non-delivery", "file", filepath.Base(name), "message", m.ID, "action", b.Action)
	}
	return os.Rename(name, filepath.Join(f.Dir, to, filepath.Base(name)))
}
