package office

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

// Messages is the messages and what became of them.
type Messages struct{ *web.Kit }

type messagesPage struct {
	web.Base
	States []web.Option
	Rows   []web.MessageLine
	Next   string
}

// messageStates lists the states, those that need a person first.
var messageStates = []records.MessageState{records.MessageUnsure, records.MessageFailed, records.MessageDue,
	records.MessageSending, records.MessageSent}

func (me Messages) List(c echo.Context) error {
	state := records.MessageState(c.QueryParam("state"))
	messages, next, err := me.Store.Outbox.Find(c.Request().Context(), store.OutboxQuery{State: state,
		After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	data := messagesPage{Base: me.WideBase(c, "Messages"), States: []web.Option{{Label: "All"}}}
	for _, st := range messageStates {
		data.States = append(data.States, web.Option{Code: string(st), Label: records.UpperFirst(web.MessageWords[st]),
			Chosen: st == state})
	}
	for _, m := range messages {
		data.Rows = append(data.Rows, me.MessageLineOf(m))
	}
	if next != "" {
		data.Next = "/messages?" + url.Values{"state": {string(state)}, "after": {next}}.Encode()
	}
	return me.Page(c, http.StatusOK, "messages", data)
}

func (me Messages) Requeue(c echo.Context) error {
	if err := me.App.Requeue(c.Request().Context(), web.Person(c), c.Param("id")); err != nil {
		return err
	}
	me.Flash(c, "The message is being sent again.")
	return web.Redirect(c, "/messages")
}

func (me Messages) Arrived(c echo.Context) error {
	if err := me.Store.Outbox.SettleSent(c.Request().Context(), web.ActorOf(c), c.Param("id"),
		"confirmed that it arrived"); err != nil {
		return err
	}
	me.Flash(c, "Marked as arrived.")
	return web.Redirect(c, "/messages")
}
