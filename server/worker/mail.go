package worker

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
	"gaugebook/server/mail"
)

// MailSender hands the stored messages over, one at a time. What was being handed
// over when the process died is set aside as unsure, for a person to settle:
// it may have arrived, so it is neither lost nor sent again unasked.
type MailSender struct {
	Store  *store.Store
	Sender mail.Sender
	// Print returns the printed record; one that has no print yet is drawn.
	Print func(ctx context.Context, recordID string) ([]byte, error)
	Now   func() time.Time
	Log   *slog.Logger
	Every time.Duration // how often to look
	wake  chan struct{}
}

// lease is how long one handing over may take before the message counts as
// left behind.
const lease = 5 * time.Minute

// NewMailSender returns a sender that is not running yet.
func NewMailSender(a *app.App, sender mail.Sender, now func() time.Time, log *slog.Logger) *MailSender {
	return &MailSender{Store: a.Store, Sender: sender, Print: a.PDF, Now: now, Log: log, Every: 5 * time.Second,
		wake: make(chan struct{}, 1)}
}

// Wake makes the running sender look at once.
func (o *MailSender) Wake() {
	select {
	case o.wake <- struct{}{}:
	default:
	}
}

// Job returns the sender as the group runs it.
func (o *MailSender) Job() Job {
	return Job{Name: "mail", Every: o.Every, Wake: o.wake, Recover: o.setAside, Run: o.SendDue}
}

// setAside marks as unsure what a crash left behind.
func (o *MailSender) setAside(ctx context.Context) error {
	n, err := o.Store.Outbox.RecoverSending(ctx)
	if n > 0 {
		o.Log.Warn("messages set aside as unsure: a crash interrupted their hand-over", "count", n)
	}
	return err
}

// SendDue sends everything that is due now.
func (o *MailSender) SendDue(ctx context.Context) error {
	for ctx.Err() == nil {
		m, err := o.Store.Outbox.ClaimDue(ctx, o.Now(), lease)
		if err != nil || m == nil {
			return err
		}
		if err := o.handOver(ctx, m); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// handOver hands over one claimed message and writes down what became of it.
// The writing must not be lost to a shutdown, so it does not end with ctx.
func (o *MailSender) handOver(ctx context.Context, m *records.Message) error {
	keep := context.WithoutCancel(ctx)
	letter, err := o.compose(ctx, m)
	if ctx.Err() != nil { // told to stop, with nothing handed over yet
		return o.Store.Outbox.MarkRetry(keep, m.ID, o.Now(), "the program was stopped before it was handed over")
	}
	if err != nil {
		return o.Store.Outbox.MarkFailed(keep, m.ID, err.Error())
	}
	receipt, err := o.Sender.Send(ctx, letter)
	if err == nil {
		o.Log.Info("message handed over", "id", m.ID, "place", receipt.Place)
		return o.Store.Outbox.MarkSent(keep, m.ID, receipt.Place+" "+receipt.Response)
	}
	o.Log.Warn("message not handed over", "id", m.ID, "error", err)
	switch mail.ClassOf(err) {
	case mail.Unsure:
		return o.Store.Outbox.MarkUnsure(keep, m.ID, err.Error())
	case mail.Temporary:
		if m.Attempts < mail.MaxAttempts {
			return o.Store.Outbox.MarkRetry(keep, m.ID, o.Now().Add(mail.Backoff(m.Attempts)), err.Error())
		}
	}
	return o.Store.Outbox.MarkFailed(keep, m.ID, err.Error())
}

// compose makes the letter; but for the token in its link it comes out the same
// on every attempt.
func (o *MailSender) compose(ctx context.Context, m *records.Message) (mail.Message, error) {
	firm, err := o.Store.Settings.Firm(ctx)
	if err != nil {
		return mail.Message{}, err
	}
	if firm.Email == "" {
		return mail.Message{}, errors.New("the firm has no e-mail address to send from: give one under Firm")
	}
	if m.Kind == store.ReminderKind {
		why, err := o.Store.Chase.ReminderStands(ctx, m.ID)
		if err != nil {
			return mail.Message{}, err
		}
		if why != "" {
			return mail.Message{}, errors.New("not sent: " + why)
		}
	}
	token, err := o.Store.Outbox.PutIn(ctx, m.ID)
	if err != nil {
		return mail.Message{}, err
	}
	out := m.With(token)
	m = &out
	letter := mail.Message{
		ID: m.ID, Date: m.CreatedAt, Automatic: true,
		From: mail.Address{Name: firm.Name, Email: firm.Email}, ReplyTo: mail.Address{Name: firm.Name,
			Email: firm.Email},
		To: mail.Address{Name: m.ToName, Email: m.ToEmail}, Subject: m.Subject, Text: m.Text, HTML: m.HTML,
		ListUnsubscribe: m.StopURL,
	}
	if m.AttachPDF {
		file, err := o.Print(ctx, m.RecordID)
		if err != nil {
			return letter, err
		}
		row, err := o.Store.Records.Issued(ctx, m.RecordID)
		if err != nil {
			return letter, err
		}
		letter.Attachments = []mail.Attachment{{Name: app.FileName(row.Number), ContentType: "application/pdf",
			Data: file}}
	}
	return letter, nil
}
