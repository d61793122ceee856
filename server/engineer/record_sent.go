package engineer

import (
	"context"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

// linkView is a private link as the record shows it.
type linkView struct {
	ID, For, Email, Made, State string
	Shape                       records.DutyState
	Usable                      bool
}

// sendingForms is what the forms about sending show: what was typed, what is
// wrong with it, and the address of a link just made, which is shown once.
type sendingForms struct {
	Email, ResendError string
	resent             bool // Email is what was typed
	LinkError, NewLink string
	NewFor, NewEmail   string
}

// messagesShown is how many messages of a record are listed.
const messagesShown = 100

func (re Records) sent(ctx context.Context, recordID string) (messages []web.MessageView, links []linkView,
	err error) {
	all, _, err := re.Store.Outbox.Find(ctx, store.OutboxQuery{RecordID: recordID, Limit: messagesShown})
	if err != nil {
		return nil, nil, err
	}
	for _, m := range all {
		messages = append(messages, re.MessageViewOf(m))
	}
	given, err := re.Store.Links.OfRecord(ctx, recordID)
	for _, l := range given {
		links = append(links, re.linkView(l))
	}
	return messages, links, err
}

func (re Records) linkView(l store.Link) linkView {
	v := linkView{ID: l.ID, For: l.ForName, Email: l.ForEmail, Made: re.FullClock(l.CreatedAt),
		Usable: l.Usable(re.App.Now())}
	day := func(t time.Time) string { return records.DateOf(t.In(re.App.Zone)).Long() }
	switch {
	case v.Usable:
		v.State, v.Shape = "valid until "+day(l.ExpiresAt), records.Ahead
	case !l.RevokedAt.IsZero():
		v.State, v.Shape = "ended "+day(l.RevokedAt)+": "+l.RevokedWhy, records.Lifted
	default:
		v.State, v.Shape = "expired "+day(l.ExpiresAt), records.Done
	}
	return v
}

// Resend sends the letter about a record once more.
func (re Records) Resend(c echo.Context) error {
	to, err := re.App.Resend(c.Request().Context(), web.Person(c), c.Param("id"), c.FormValue("email"))
	if err != nil && records.KindOf(err) == records.Invalid {
		return re.refuse(c, err, issuedErrors{sending: sendingForms{Email: c.FormValue("email"),
			ResendError: err.Error(), resent: true}})
	}
	if err != nil {
		return err
	}
	re.Flash(c, "It is being sent to "+to.Email+".")
	return web.Redirect(c, "/records/"+c.Param("id")+"#delivery")
}

// AddLink makes a private link. Its address is on the page that answers and
// nowhere else.
func (re Records) AddLink(c echo.Context) error {
	ctx := c.Request().Context()
	row, err := re.Store.Records.Issued(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	entry := sendingForms{NewFor: c.FormValue("for"), NewEmail: c.FormValue("email")}
	link, err := re.App.AddLink(ctx, web.Person(c), row.ID, entry.NewFor, entry.NewEmail, c.FormValue("days"))
	if err != nil && records.KindOf(err) == records.Invalid {
		entry.LinkError = err.Error()
		return re.refuse(c, err, issuedErrors{sending: entry})
	}
	if err != nil {
		return err
	}
	r, err := re.Store.Records.Record(ctx, row.ID)
	if err != nil {
		return err
	}
	return re.showIssued(c, web.OK, r, issuedErrors{sending: sendingForms{NewLink: link}})
}

// EndLink revokes a link of a record.
func (re Records) EndLink(c echo.Context) error {
	err := re.App.EndLink(c.Request().Context(), web.Person(c), c.Param("id"), c.Param("link"), c.FormValue("why"))
	if err != nil && records.KindOf(err) == records.Invalid {
		return re.refuse(c, err, issuedErrors{sending: sendingForms{LinkError: err.Error()}})
	}
	if err != nil {
		return err
	}
	re.Flash(c, "The link has been ended. Anybody who opens it is shown your telephone number.")
	return web.Redirect(c, "/records/"+c.Param("id")+"#delivery")
}
