package web

import (
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

// seenEvery is how often use is written down: not at every request, which would
// make every page a write.
const seenEvery = time.Hour

// Keys of what a session holds.
const (
	keyPerson = "person"
	keyCount  = "sign-ins" // the person's number when the session began
	keySignIn = "sign-in"  // id of the line in the list of sign-ins
	keySeen   = "seen"     // of sessions of before there was that list
	keyFlash  = "flash"
)

// newSessions keeps sessions in the store, under a cookie that only this host gets
// back.
func newSessions(st *store.Store, secure bool, log *slog.Logger) *scs.SessionManager {
	sm := scs.New()
	sm.ErrorFunc = func(w http.ResponseWriter, r *http.Request, err error) {
		log.ErrorContext(r.Context(), "session", "error", err)
		http.Error(w, "The session could not be read or written. Nothing has been lost; try again.",
			http.StatusInternalServerError)
	}
	sm.Store = st.People.Sessions()
	sm.Lifetime = records.SessionLife
	sm.HashTokenInStore = true
	sm.Cookie.HttpOnly = true
	sm.Cookie.SameSite = http.SameSiteLaxMode
	sm.Cookie.Path = "/"
	sm.Cookie.Secure = secure
	// Browsers accept the __Host- prefix over https only, and then for this
	// host alone.
	sm.Cookie.Name = "gaugebook"
	if secure {
		sm.Cookie.Name = "__Host-gaugebook"
	}
	return sm
}

// session loads the session and the person of a request. What goes wrong
// inside is answered inside, so that the session is written once.
func (k *Kit) session(next echo.HandlerFunc) echo.HandlerFunc {
	return echo.WrapMiddleware(k.sessions.LoadAndSave)(func(c echo.Context) error {
		err := k.loadPerson(c)
		if err == nil {
			err = next(c)
		}
		if err != nil {
			c.Error(err)
		}
		return nil
	})
}

const contextPerson = "person"

func (k *Kit) loadPerson(c echo.Context) error {
	ctx := c.Request().Context()
	id := k.sessions.GetString(ctx, keyPerson)
	if id == "" {
		return nil
	}
	p, err := k.Store.People.ByID(ctx, id)
	if err != nil && records.KindOf(err) != records.NotFound {
		return err
	}
	if err != nil || !p.Active || k.sessions.GetInt(ctx, keyCount) != p.SignIns {
		return k.sessions.Destroy(ctx)
	}
	open, err := k.stillOpen(c, p)
	if err != nil {
		return err
	}
	if !open {
		return k.sessions.Destroy(ctx)
	}
	SetPerson(c, p)
	return nil
}

// SetPerson notes who makes a request.
func SetPerson(c echo.Context, p records.Person) { c.Set(contextPerson, p) }

// Person returns who is signed in. Behind a guard there always is somebody.
func Person(c echo.Context) records.Person {
	p, _ := c.Get(contextPerson).(records.Person)
	return p
}

// ActorOf returns who is signed in, as the audit log names them.
func ActorOf(c echo.Context) records.Actor { return Person(c).Actor() }

// Flash keeps a sentence for the next page.
func (k *Kit) Flash(c echo.Context, text string) {
	k.sessions.Put(c.Request().Context(), keyFlash, text)
}

// LocalPath returns next if it is a path on this server, otherwise the home
// page: a sign-in link must not lead elsewhere.
func LocalPath(next string) string {
	u, err := url.Parse(next)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") ||
		strings.ContainsAny(next, "\\\r\n") {
		return "/"
	}
	return next
}
