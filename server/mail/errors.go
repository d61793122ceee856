package mail

import (
	"errors"
	"fmt"
	"net/textproto"
	"regexp"
	"strings"
)

// Class says what may be done with a letter that was not handed over.
type Class string

const (
	// Temporary: not accepted, try again later.
	Temporary Class = "temporary"
	// Permanent: not accepted and never will be as it stands; do not try again.
	Permanent Class = "permanent"
	// Unsure: it was sent whole and the answer never came. It may have been
	// accepted, so only a person may decide to send it again.
	Unsure Class = "unsure"
)

// Stage is the step of the hand-over that failed.
type Stage string

// The stages in the order in which they happen.
const (
	StageMessage    Stage = "checking the letter"
	StageSettings   Stage = "reading the mail settings"
	StageConnect    Stage = "connecting"
	StageGreeting   Stage = "greeting"
	StageEncryption Stage = "encrypting the connection"
	StageSignIn     Stage = "signing in"
	StageSender     Stage = "naming the sender"
	StageRecipient  Stage = "naming the recipient"
	StageContent    Stage = "sending the letter"
	StageAcceptance Stage = "waiting for acceptance"
	StageFile       Stage = "writing the file"
)

// Error is the only error that a Sender returns.
type Error struct {
	Class    Class
	Stage    Stage
	Code     int    // the server's reply code; 0 if it gave none
	Enhanced string // its enhanced status code (RFC 3463); empty if none
	Response string // its own words; empty if none
	Err      error  // the cause
}

func (e *Error) Error() string {
	return fmt.Sprintf("mail: %s failure while %s: %v", e.Class, e.Stage, e.Err)
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// AboutServer is true if the settings or the server are at fault rather than
// this letter: every other letter would fail in the same way, so the owner
// should be told. Such a failure is always Temporary, because a mistyped
// password must not condemn the letters that wait.
func (e *Error) AboutServer() bool {
	switch e.Stage {
	case StageSettings, StageConnect, StageGreeting, StageEncryption, StageSignIn, StageFile:
		return true
	}
	return signInWanted(e.Code)
}

// ClassOf gives the class of an error that came from a Sender. An error of any
// other kind is Unsure: nothing is known about it, so nothing is sent twice.
func ClassOf(err error) Class {
	var e *Error
	if errors.As(err, &e) {
		return e.Class
	}
	return Unsure
}

// FieldError says which field of a letter or of the settings cannot be used.
type FieldError struct {
	Field    string
	Value    string
	Accepted string // what would be accepted instead
}

func (e *FieldError) Error() string {
	return fmt.Sprintf("%s %q: accepted is %s", e.Field, shorten(e.Value, 80), e.Accepted)
}

func lengthRange(low, high int) string {
	return fmt.Sprintf("%d to %d characters", low, high)
}

func shorten(s string, limit int) string {
	if r := []rune(s); len(r) > limit {
		return string(r[:limit]) + "…"
	}
	return s
}

// signInWanted names the replies of RFC 4954 section 6 that speak of sign-in,
// at whatever stage they come.
func signInWanted(code int) bool {
	return code == 530 || code == 534 || code == 535 || code == 538
}

const maxResponse = 2000

var enhancedCode = regexp.MustCompile(`^[245]\.\d{1,3}\.\d{1,3}\b`)

// failure classifies err, met at stage. Only a reply of the server can be
// permanent; a connection that breaks is temporary until the letter's last
// line went out, and Unsure from then on.
func failure(stage Stage, err error) *Error {
	e := &Error{Class: Temporary, Stage: stage, Err: err}
	if stage == StageAcceptance {
		e.Class = Unsure
	}
	var reply *textproto.Error
	if !errors.As(err, &reply) {
		return e
	}
	e.Code = reply.Code
	e.Response = shorten(strings.ToValidUTF8(reply.Msg, "\uFFFD"), maxResponse)
	e.Enhanced = enhancedCode.FindString(reply.Msg)
	switch {
	case reply.Code/100 == 4:
		e.Class = Temporary
	case reply.Code/100 == 5:
		e.Class = Permanent
		if e.AboutServer() {
			e.Class = Temporary
		}
	}
	return e
}
