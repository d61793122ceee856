package office

import (
	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

type messagePage struct {
	web.Base
	Message    web.MessageView
	Back       string
	Why, Error string
}

// Show shows one message: what was sent, when, and what became of it.
func (me Messages) Show(c echo.Context) error {
	m, err := me.message(c)
	if err != nil {
		return err
	}
	return me.show(c, web.OK, m, "", nil)
}

func (me Messages) show(c echo.Context, status int, m records.Message, why string, refused error) error {
	data := messagePage{Base: me.Base(c, m.Subject), Message: me.MessageViewOf(m), Back: "/messages", Why: why}
	if m.RecordID != "" {
		data.Back = "/records/" + m.RecordID + "#delivery"
	}
	if refused != nil {
		data.Error = refused.Error()
	}
	return me.Page(c, status, "message", data)
}

// Bounced notes that a message came back undelivered, and why.
func (me Messages) Bounced(c echo.Context) error {
	ctx, why := c.Request().Context(), c.FormValue("why")
	m, err := me.message(c)
	if err != nil {
		return err
	}
	err = me.Store.Outbox.Bounce(ctx, web.ActorOf(c), m.ID, why)
	if kind := records.KindOf(err); err != nil && (kind == records.Invalid || kind == records.Conflict) {
		return me.show(c, web.StatusOf(kind), m, why, err)
	}
	if err != nil {
		return err
	}
	me.Flash(c, "Noted: the message to "+m.ToEmail+" came back.")
	return web.Redirect(c, "/messages/"+m.ID)
}

// AddBounce takes in a mail server's report that a person has as a file.
func (me Messages) AddBounce(c echo.Context) error {
	file, err := c.FormFile("file")
	if err != nil {
		return app.NotAReport("no file was chosen")
	}
	report, err := file.Open()
	if err != nil {
		return err
	}
	defer report.Close()
	b, m, err := me.App.TakeBounce(c.Request().Context(), web.ActorOf(c), report)
	if err != nil {
		return err
	}
	if b.Action != "failed" {
		me.Flash(c, "The report says “"+b.Action+"”: the message has not failed, and nothing was changed.")
	} else {
		me.Flash(c, "Noted: the message to "+m.ToEmail+" came back.")
	}
	if m.AboutAccount() {
		return web.Redirect(c, "/messages")
	}
	return web.Redirect(c, "/messages/"+m.ID)
}
