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
	State                                          records.MessageState
	Words                                          string
	Shape                                          records.DutyState
	Tries                                          int
	Stuck, Unsure                                  bool
}

// messageWords says in plain words how far a message has come.
var messageWords = map[records.MessageState]string{
	records.MessageDue: "waits to be sent", records.MessageSending: "is being sent",
	records.MessageSent:   "handed over for delivery",
	records.MessageFailed: "failed", records.MessageUnsure: "unsure: it may have arrived",
}

// messageStates lists the states, those that need a person first.
var messageStates = []records.MessageState{records.MessageUnsure, records.MessageFailed, records.MessageDue,
	records.MessageSending, records.MessageSent}

var messageShapes = map[records.MessageState]records.DutyState{
	records.MessageDue: records.Ahead, records.MessageSending: records.Near, records.MessageSent: records.Done,
	records.MessageFailed: records.Late, records.MessageUnsure: records.Late,
}

func (s *Server) messageLineOf(m records.Message) messageLine {
	return messageLine{ID: m.ID, Record: m.RecordID, To: m.ToEmail, ToName: m.ToName, Subject: m.Subject,
		When: s.clock(m.UpdatedAt), Problem: cmp.Or(m.Problem, m.Receipt),
		State: m.State, Words: messageWords[m.State], Shape: messageShapes[m.State], Tries: m.Attempts,
		Stuck:  m.State == records.MessageFailed || m.State == records.MessageUnsure,
		Unsure: m.State == records.MessageUnsure}
}

func (s *Server) messages(c echo.Context) error {
	state := records.MessageState(c.QueryParam("state"))
	messages, next, err := s.store.Outbox.Find(c.Request().Context(), store.OutboxQuery{State: state,
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
	if err := s.store.Outbox.Requeue(c.Request().Context(), actorOf(c), c.Param("id")); err != nil {
		return err
	}
	s.wake()
	s.say(c, "The message is being sent again.")
	return see(c, "/messages")
}

func (s *Server) arrived(c echo.Context) error {
	if err := s.store.Outbox.SettleSent(c.Request().Context(), actorOf(c), c.Param("id"),
		"confirmed that it arrived"); err != nil {
		return err
	}
	s.say(c, "Marked as arrived.")
	return see(c, "/messages")
}
