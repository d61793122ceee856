package web

import (
	"context"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

// KeysView is a person's keys for programs, on their own page and the owner's.
type KeysView struct {
	Action        string // where the forms lead
	Keys          []KeyLine
	Made          string // shown once, after it was made
	Label, Error  string // of the form
	Scopes, Lives []Option
}

// KeyLine is one key.
type KeyLine struct {
	ID, Label, May, Made, Until, Used, Ended string
}

// KeyWords are what a key may do, in words.
var KeyWords = map[records.KeyScope]string{
	records.KeyReads:  "read, and check readings",
	records.KeyEnters: "read, and enter readings",
	records.KeyIssues: "read, enter, and issue records in your name",
}

// keyLives are for how many days a key can be made.
var keyLives = []Option{{Code: "90", Label: "90 days", Chosen: true}, {Code: "30", Label: "30 days"},
	{Code: "365", Label: "a year"}}

// KeysOf shows the keys of a person. Own says that they look at them themselves:
// nobody else makes one that issues records.
func (k *Kit) KeysOf(ctx context.Context, p records.Person, own bool, action string) (KeysView, error) {
	keys, err := k.Store.People.Keys(ctx, p.ID)
	v := KeysView{Action: action, Lives: keyLives}
	for _, s := range records.KeyScopes {
		if s != records.KeyIssues || own && p.Role.TakesReadings() {
			v.Scopes = append(v.Scopes, Option{Code: string(s), Label: records.UpperFirst(KeyWords[s]),
				Chosen: s == records.KeyEnters})
		}
	}
	now := k.App.Now()
	for _, key := range keys {
		line := KeyLine{ID: key.ID, Label: key.Label, May: string(key.Scope), Made: k.Clock(key.CreatedAt),
			Until: k.Clock(key.ExpiresAt), Used: k.Clock(key.LastUsed)}
		if key.Ended(now) {
			line.Ended = k.Clock(key.RevokedAt)
			if key.RevokedAt.IsZero() {
				line.Ended = line.Until
			}
		}
		v.Keys = append(v.Keys, line)
	}
	return v, err
}

// MakeKey makes the key that a form of KeysView asks for. Kinds as those of the
// store.
func (k *Kit) MakeKey(c echo.Context, personID string) (store.Key, error) {
	var life time.Duration
	for _, o := range keyLives {
		if o.Code == c.FormValue("days") {
			days, err := time.ParseDuration(o.Code + "h")
			if err != nil {
				return store.Key{}, err
			}
			life = 24 * days
		}
	}
	if life == 0 {
		return store.Key{}, &records.Error{Kind: records.Invalid, Field: "days", Label: "Valid for",
			Value: c.FormValue("days"), Want: "30, 90 or 365 days"}
	}
	return k.Store.People.NewKey(c.Request().Context(), ActorOf(c), personID, c.FormValue("label"),
		store.KeyTerms{Scope: records.KeyScope(c.FormValue("scope")), Life: life})
}
