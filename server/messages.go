package server

import (
	"cmp"
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

type messagesPage struct {
	base
	States []optionForm
	Rows   []messageLine
	Next   string
}

type messageLine struct {
	ID, Record, To, ToName, Subject, When, Problem string
	State                                          store.MessageState
	Words                                          string
	Shape                                          records.DutyState
	Tries                                          int
	Stuck, Unsure                                  bool
}

// messageWords says in plain words how far a message has come.
var messageWords = map[store.MessageState]string{
	store.MessageDue: "waits to be sent", store.MessageSending: "is being sent",
	store.MessageSent:   "handed over for delivery",
	store.MessageFailed: "failed", store.MessageUnsure: "unsure: it may have arrived",
}

// messageStates lists the states, those that need a person first.
var messageStates = []store.MessageState{store.MessageUnsure, store.MessageFailed, store.MessageDue,
	store.MessageSending, store.MessageSent}

var messageShapes = map[store.MessageState]records.DutyState{
	store.MessageDue: records.Ahead, store.MessageSending: records.Near, store.MessageSent: records.Done,
	store.MessageFailed: records.Late, store.MessageUnsure: records.Late,
}

func (s *Server) messageLineOf(m store.OutboxMessage) messageLine {
	return messageLine{ID: m.ID, Record: m.RecordID, To: m.ToEmail, ToName: m.ToName, Subject: m.Subject,
		When: s.clock(m.UpdatedAt), Problem: cmp.Or(m.Problem, m.Receipt),
		State: m.State, Words: messageWords[m.State], Shape: messageShapes[m.State], Tries: m.Attempts,
		Stuck: m.State == store.MessageFailed || m.State == store.MessageUnsure, Unsure: m.State == store.MessageUnsure}
}

func (s *Server) messages(c echo.Context) error {
	state := store.MessageState(c.QueryParam("state"))
	messages, next, err := s.store.Outbox(c.Request().Context(), store.OutboxQuery{State: state,
		After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	data := messagesPage{base: s.deskBase(c, "Messages"), States: []optionForm{{Label: "All"}}}
	for _, st := range messageStates {
		data.States = append(data.States, optionForm{Code: string(st), Label: upper(messageWords[st]),
			Chosen: st == state})
	}
	for _, m := range messages {
		data.Rows = append(data.Rows, s.messageLineOf(m))
	}
	if next != "" {
		data.Next = "/messages?" + url.Values{"state": {string(state)}, "after": {next}}.Encode()
	}
	return s.page(c, http.StatusOK, "messages", data)
}

func (s *Server) requeue(c echo.Context) error {
	if err := s.store.Requeue(c.Request().Context(), actorOf(c), c.Param("id")); err != nil {
		return err
	}
	s.wake()
	s.say(c, "The message is being sent again.")
	return see(c, "/messages")
}

func (s *Server) arrived(c echo.Context) error {
	if err := s.store.SettleSent(c.Request().Context(), actorOf(c), c.Param("id"),
		"confirmed that it arrived"); err != nil {
		return err
	}
	s.say(c, "Marked as arrived.")
	return see(c, "/messages")
}
