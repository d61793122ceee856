package web

import (
	"cmp"
	"strings"

	"gaugebook/records"
)

// MessageLine is a message in lists.
type MessageLine struct {
	ID, Record, To, ToName, Subject, When, Problem string
	State                                          records.MessageState
	Words                                          string
	Shape                                          records.DutyState
	Tries                                          int
	Stuck, Unsure                                  bool
}

// MessageWords says in plain words how far a message has come.
var MessageWords = map[records.MessageState]string{
	records.MessageDue: "waiting to be sent", records.MessageSending: "being sent",
	records.MessageSent:   "handed over for delivery",
	records.MessageFailed: "failed", records.MessageUnsure: "unsure: it may have arrived",
}

// messageShapes are the shapes that stand for how a message is, as for duties.
var messageShapes = map[records.MessageState]records.DutyState{
	records.MessageDue: records.Ahead, records.MessageSending: records.Near, records.MessageSent: records.Done,
	records.MessageFailed: records.Late, records.MessageUnsure: records.Late,
}

// MessageLineOf writes a message for lists.
func (k *Kit) MessageLineOf(m records.Message) MessageLine {
	return MessageLine{ID: m.ID, Record: m.RecordID, To: m.ToEmail, ToName: m.ToName, Subject: m.Subject,
		When: k.Clock(m.UpdatedAt), Problem: cmp.Or(m.Problem, m.Receipt),
		State: m.State, Words: MessageWords[m.State], Shape: messageShapes[m.State], Tries: m.Attempts,
		Stuck:  m.State == records.MessageFailed || m.State == records.MessageUnsure,
		Unsure: m.State == records.MessageUnsure}
}

// MessageView is one message as its record shows it, and a page of its own.
type MessageView struct {
	MessageLine
	Kind, Put, NextTry, Receipt, Why string
	Text                             string
	MayBounce                        bool
}

// MessageViewOf writes a message in full.
func (k *Kit) MessageViewOf(m records.Message) MessageView {
	v := MessageView{MessageLine: k.MessageLineOf(m), Kind: m.Kind, Put: k.FullClock(m.CreatedAt), Receipt: m.Receipt,
		Why: m.Problem, Text: m.Text}
	v.MayBounce = m.State == records.MessageSent || m.State == records.MessageUnsure
	if m.State == records.MessageDue {
		v.NextTry = k.Clock(m.NextAt)
	}
	if m.AboutAccount() {
		v.Text = ""
	}
	v.Text = strings.ReplaceAll(v.Text, records.TokenMark, "…")
	return v
}
