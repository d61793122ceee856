package server

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

type messagesPage struct {
	web.Base
	States []web.Option
	Rows   []web.MessageLine
	Next   string
}

// messageStates lists the states, those that need a person first.
var messageStates = []records.MessageState{records.MessageUnsure, records.MessageFailed, records.MessageDue,
	records.MessageSending, records.MessageSent}

func (s Messages) List(c echo.Context) error {
	state := records.MessageState(c.QueryParam("state"))
	messages, next, err := s.Store.Outbox.Find(c.Request().Context(), store.OutboxQuery{State: state,
		After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	data := messagesPage{Base: s.WideBase(c, "Messages"), States: []web.Option{{Label: "All"}}}
	for _, st := range messageStates {
		data.States = append(data.States, web.Option{Code: string(st), Label: records.UpperFirst(web.MessageWords[st]),
			Chosen: st == state})
	}
	for _, m := range messages {
		data.Rows = append(data.Rows, s.MessageLineOf(m))
	}
	if next != "" {
		data.Next = "/messages?" + url.Values{"state": {string(state)}, "after": {next}}.Encode()
	}
	return s.Page(c, http.StatusOK, "messages", data)
}

func (s Messages) Requeue(c echo.Context) error {
	if err := s.App.Requeue(c.Request().Context(), web.Person(c), c.Param("id")); err != nil {
		return err
	}
	s.Flash(c, "The message is being sent again.")
	return web.Redirect(c, "/messages")
}

func (s Messages) Arrived(c echo.Context) error {
	if err := s.Store.Outbox.SettleSent(c.Request().Context(), web.ActorOf(c), c.Param("id"),
		"confirmed that it arrived"); err != nil {
		return err
	}
	s.Flash(c, "Marked as arrived.")
	return web.Redirect(c, "/messages")
}
