// Package web is the kit that the pages of every person are made with: who is
// signed in and may do what, the data that the layout needs, forms, answers and
// errors, and the lines that several pages show.
package web

import (
	"log/slog"
	"time"

	"github.com/alexedwards/scs/v2"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
	"gaugebook/templates"
)

// Pages is the data of the pages of the kit.
var Pages = templates.Types{"error": errorPage{}, "form": FormPage{}}

// Kit is what every page works with: the use cases, the store, who is signed in
// and the templates.
type Kit struct {
	App      *app.App
	Store    *store.Store
	Log      *slog.Logger
	pages    *templates.Set
	sessions *scs.SessionManager
	secure   bool
}

// New returns a kit. Secure says that the server is reached over https.
func New(a *app.App, log *slog.Logger, pages *templates.Set, secure bool) *Kit {
	return &Kit{App: a, Store: a.Store, Log: log, pages: pages, secure: secure,
		sessions: newSessions(a.Store, secure, log)}
}

// Clock writes an instant as a time where the firm works; today needs no date.
func (k *Kit) Clock(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	if t = t.In(k.App.Zone); records.DateOf(t) == k.App.Today() {
		return t.Format("15:04")
	}
	return k.FullClock(t)
}

// FullClock always names the day, for what is kept or printed.
func (k *Kit) FullClock(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(k.App.Zone).Format("2 January 2006, 15:04")
}

// Day writes the date of an instant where the firm works, short.
func (k *Kit) Day(t time.Time) string { return t.In(k.App.Zone).Format("2 Jan 2006") }
