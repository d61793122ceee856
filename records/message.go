package records

import (
	"strings"
	"time"
)

// MessageState is how far a message has come.
type MessageState string

// The states of a message. A message is unsure when sending began and nobody
// knows whether it was accepted: it is never sent again unless a person says
// so.
const (
	MessageDue     MessageState = "due"
	MessageSending MessageState = "sending"
	MessageSent    MessageState = "sent"
	MessageFailed  MessageState = "failed"
	MessageUnsure  MessageState = "unsure"
)

// UnsentStates are those of messages that are not sent, or may not have been.
var UnsentStates = []MessageState{MessageDue, MessageSending, MessageFailed, MessageUnsure}

// Kinds of the messages about a person's own account.
const (
	InvitationKind = "invitation"      // brings a link to set a password
	AccountKind    = "account changed" // tells of a new password or address
)

// TokenMark stands in a stored message for the token that is put in when it is
// handed over.
const TokenMark = "put-in-when-it-is-sent"

// Message is a message to a customer or to one of the firm's people. There is
// one for each kind, record, ref and address, however often it is put in.
type Message struct {
	ID        string // also makes the Message-ID, so that it never changes
	Kind      string // such as "record issued" or "service due"
	RecordID  string // "" for a message about no record
	Ref       string // what else tells it from others of its kind, such as a duty's id
	ToName    string
	ToEmail   string
	Subject   string
	Text      string
	HTML      string
	AttachPDF bool   // of RecordID
	StopURL   string // where the customer says that they want no more of the kind
	Token     string // what TokenMark stands for, as the store names it; "" for nothing

	State      MessageState
	Attempts   int // begun
	NextAt     time.Time
	LeaseUntil time.Time // while it is being sent
	Receipt    string    // what the mail server answered
	Problem    string    // why it is not sent
	CreatedAt  time.Time
	UpdatedAt  time.Time
}

// AboutAccount reports whether the message is for the holder of an account
// only: nobody else reads it.
func (m Message) AboutAccount() bool { return m.Kind == InvitationKind || m.Kind == AccountKind }

// With returns the message with its token put in.
func (m Message) With(token string) Message {
	for _, s := range []*string{&m.Text, &m.HTML, &m.StopURL} {
		*s = strings.ReplaceAll(*s, TokenMark, token)
	}
	return m
}

// Checked returns the message tidied up, or every error in it.
func (m Message) Checked() (Message, error) {
	var c check
	m.Kind = c.line("kind", "Kind of message", m.Kind, 1, 60)
	m.ToEmail = c.line("to_email", "E-mail", m.ToEmail, 3, maxEmail)
	m.ToName = c.line("to_name", "Name", m.ToName, 0, maxName)
	m.Subject = c.line("subject", "Subject", m.Subject, 1, 200)
	if m.Text == "" {
		c.add("text", "Message", "", "a text; it cannot be left blank")
	}
	return m, c.err()
}
