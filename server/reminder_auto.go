package server

import (
	"context"
	"log/slog"
	"time"

	"gaugebook/records"
	"gaugebook/server/app"
)

// Chaser puts the reminders of each day into the outbox, each morning, where
// the owner has switched that on.
type Chaser struct {
	App   *app.App
	Log   *slog.Logger
	Every time.Duration // how often to look
	Hour  int           // of the day from which on reminders go out

	ran records.Date
}

// NewChaser returns a chaser that is not running yet. It begins at eight in
// the morning where the firm works.
func NewChaser(a *app.App, log *slog.Logger) *Chaser {
	return &Chaser{App: a, Log: log, Every: 5 * time.Minute, Hour: 8}
}

// Run looks now and then until ctx ends.
func (c *Chaser) Run(ctx context.Context) error {
	tick := time.NewTicker(c.Every)
	defer tick.Stop()
	for {
		if err := c.Look(ctx); err != nil && ctx.Err() == nil {
			c.Log.Error("automatic reminders", "error", err)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
	}
}

// Look does the day's work if it is time for it and it has not been done. A
// day that was missed is not made up for: of each duty only the latest step
// goes out. That the work was done is only remembered to save the search;
// after a restart it is done again and finds nothing left.
func (c *Chaser) Look(ctx context.Context) error {
	now := c.App.Now().In(c.App.Zone)
	today := records.DateOf(now)
	if now.Hour() < c.Hour || c.ran == today {
		return nil
	}
	out, on, err := c.App.SendTodaysReminders(ctx)
	if out.Sent > 0 {
		c.Log.Info("reminders put into the outbox", "count", out.Sent)
	}
	if len(out.LeftOut) > 0 {
		c.Log.Info("reminders left out: seen to, booked or stopped meanwhile", "count", len(out.LeftOut))
	}
	if err == nil && on {
		c.ran = today
	}
	return err
}
