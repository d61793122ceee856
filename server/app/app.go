// Package app holds the use cases of Gaugebook, from the start of a record to
// the reminder of the next service, without HTTP: the pages, the API, the
// workers and the demo register all go through it.
package app

import (
	"crypto/ed25519"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
)

// App carries out the use cases. Everything up to Zone must
// be set.
type App struct {
	Store   *store.Store
	Key     ed25519.PrivateKey // signs what is issued
	BaseURL string             // of this server as the customer reaches it, no slash at the end
	Now     func() time.Time
	Zone    *time.Location // where the firm works; decides what day it is
	// MailWaiting, if set, is called when a message has been put into the
	// outbox.
	MailWaiting func()
	// Draw prints a record; nil is pdf.RenderSealed.
	Draw func(records.Document, ed25519.PrivateKey) ([]byte, error)
	// PrintLater has a record issued without its print, which is drawn when it is
	// first asked for: for filling a register.
	PrintLater bool
	// Passwords is what hashing a password costs; leave it zero outside tests.
	Passwords PasswordCost
}

// Today returns the firm's calendar date.
func (a *App) Today() records.Date { return records.DateOf(a.Now().In(a.Zone)) }

// onlyEngineers refuses, in the words given, whoever does not take readings.
func onlyEngineers(who records.Person, refusal string) error {
	if !who.Role.TakesReadings() {
		return records.Fail(records.Forbidden, refusal)
	}
	return nil
}

func (a *App) mailWaiting() {
	if a.MailWaiting != nil {
		a.MailWaiting()
	}
}

// VerifyURL is where anybody checks a record by its number and code.
func (a *App) VerifyURL(number, code string) string { return a.BaseURL + "/v/" + number + "/" + code }

// CustomerURL is the private page of whoever holds the token of a link.
func (a *App) CustomerURL(token string) string { return a.BaseURL + "/r/" + token }
