package office

import (
	"fmt"
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
	State *web.Input
	Rows  []web.MessageLine
	Next  string
}

// messageStates lists the states, those that need a person first.
var messageStates = []records.MessageState{records.MessageUnsure, records.MessageFailed, records.MessageDue,
	records.MessageSending, records.MessageSent}

func (me Messages) List(c echo.Context) error {
	state := records.MessageState(c.QueryParam("state"))
	messages, next, err := me.Store.Outbox.Find(c.Request().Context(), store.OutboxQuery{State: state,
		After: c.QueryParam("after"), Customer: web.Person(c).Role != records.RoleOwner})
	if err != nil {
		return err
	}
	data := messagesPage{Base: me.WideBase(c, "Messages"), State: &web.Input{Name: "state", Label: "State"}}
	data.State.Offer("", "All")
	counts, err := me.Store.Outbox.Counts(c.Request().Context(), web.Person(c).Role != records.RoleOwner)
	if err != nil {
		return err
	}
	for _, st := range messageStates {
		label := records.UpperFirst(web.MessageWords[st])
		if n := counts[st]; n > 0 {
			label += fmt.Sprintf(" (%d)", n)
		}
		data.State.Offer(string(st), label)
	}
	data.State.Set(string(state))
	for _, m := range messages {
		data.Rows = append(data.Rows, me.MessageLineOf(m))
	}
	if next != "" {
		data.Next = "/messages?" + url.Values{"state": {string(state)}, "after": {next}}.Encode()
	}
	return me.Page(c, web.OK, "messages", data)
}

// message returns a message that the reader may know of: of one about somebody's
// account only owners learn how it stands, and nobody what it says. Kinds:
// NotFound.
func (me Messages) message(c echo.Context) (records.Message, error) {
	m, err := me.Store.Outbox.Message(c.Request().Context(), c.Param("id"))
	if err == nil && m.AboutAccount() && web.Person(c).Role != records.RoleOwner {
		return records.Message{}, &records.Error{Kind: records.NotFound, Field: "message", Value: c.Param("id"),
			Msg: "there is no such message"}
	}
	return m, err
}

func (me Messages) Requeue(c echo.Context) error {
	if _, err := me.message(c); err != nil {
		return err
	}
	err := me.App.Requeue(c.Request().Context(), web.Person(c), c.Param("id"))
	return me.Done(c, err, "The message is being sent again.", "/messages")
}

func (me Messages) Arrived(c echo.Context) error {
	if _, err := me.message(c); err != nil {
		return err
	}
	err := me.Store.Outbox.SettleSent(c.Request().Context(), web.ActorOf(c), c.Param("id"),
		"confirmed that it arrived")
	return me.Done(c, err, "Marked as arrived.", "/messages")
}
