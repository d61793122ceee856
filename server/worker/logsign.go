package worker

import (
	"context"
	"time"

	"gaugebook/server/app"
)

// LogSigner signs the audit log once a day, if there is something new in it.
// Each issue signs it as well.
type LogSigner struct{ App *app.App }

// signEvery is how often the log is signed at the least.
const signEvery = 24 * time.Hour

// Job returns the signer as the group runs it.
func (l LogSigner) Job() Job { return Job{Name: "log signing", Every: 10 * time.Minute, Run: l.Run} }

// PhotoSweeper removes, once a day, pictures that were never named by a record or
// are no longer: of a draft that lost them, or of an upload that broke off.
type PhotoSweeper struct{ App *app.App }

// Job returns the sweeper as the group runs it.
func (p PhotoSweeper) Job() Job {
	return Job{Name: "photos", Every: 24 * time.Hour, Run: func(ctx context.Context) error {
		_, err := p.App.Store.Photos.Sweep(ctx, p.App.Now().Add(-sweepAfter))
		return err
	}}
}

// sweepAfter is how long a picture may be named by nothing.
const sweepAfter = 7 * 24 * time.Hour

// Run signs the log if that was not done for a day.
func (l LogSigner) Run(ctx context.Context) error {
	last, err := l.App.Store.Audit.Signed(ctx)
	if err != nil || last != nil && l.App.Now().Sub(last.At) < signEvery {
		return err
	}
	_, err = l.App.Store.Audit.Sign(ctx, l.App.Key)
	return err
}
