package worker

import (
	"context"
	"log/slog"
	"time"

	"gaugebook/records"
	"gaugebook/server/app"
)

// ReminderScheduler puts the reminders of each day into the outbox, each morning, where
// the owner has switched that on.
type ReminderScheduler struct {
	App   *app.App
	Log   *slog.Logger
	Every time.Duration // how often to look
	Hour  int           // of the day from which on reminders go out

	ran records.Date
}

// NewReminderScheduler returns a scheduler that is not running yet. It begins at eight in
// the morning where the firm works.
func NewReminderScheduler(a *app.App, log *slog.Logger) *ReminderScheduler {
	return &ReminderScheduler{App: a, Log: log, Every: 5 * time.Minute, Hour: 8}
}

// Job returns the scheduler as the group runs it.
func (r *ReminderScheduler) Job() Job {
	return Job{Name: "reminders", Every: r.Every, Run: r.SendDue}
}

// SendDue does the day's work if it is time for it and it has not been done. A
// day that was missed is not made up for: of each duty only the latest step
// goes out. That the work was done is only remembered to save the search;
// after a restart it is done again and finds nothing left.
func (r *ReminderScheduler) SendDue(ctx context.Context) error {
	now := r.App.Now().In(r.App.Zone)
	today := records.DateOf(now)
	if now.Hour() < r.Hour || r.ran == today {
		return nil
	}
	out, on, err := r.App.SendTodaysReminders(ctx)
	if out.Sent > 0 {
		r.Log.Info("reminders put into the outbox", "count", out.Sent)
	}
	if len(out.LeftOut) > 0 {
		r.Log.Info("reminders left out: done, booked or stopped meanwhile", "count", len(out.LeftOut))
	}
	if err == nil && on {
		r.ran = today
	}
	return err
}
