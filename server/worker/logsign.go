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

// Run signs the log if that was not done for a day.
func (l LogSigner) Run(ctx context.Context) error {
	last, err := l.App.Store.Audit.Signed(ctx)
	if err != nil || last != nil && l.App.Now().Sub(last.At) < signEvery {
		return err
	}
	_, err = l.App.Store.Audit.Sign(ctx, l.App.Key)
	return err
}
