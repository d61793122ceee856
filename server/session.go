package server

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

// A session ends thirty days after sign-in, or after seven days in which it
// was not used. An engineer signs in at home and must not be signed out in a
// loft.
const (
	sessionLife = 30 * 24 * time.Hour
	sessionIdle = 7 * 24 * time.Hour
	// seenEvery is how often use is written down: not at every request, which
	// would make every page a write.
	seenEvery = time.Hour
)

// Keys of what a session holds.
const (
	keyPerson = "person"
	keyCount  = "sign-ins" // the person's number when the session began
	keySeen   = "seen"
	keyFlash  = "flash"
)

func newSessions(st *store.Store, secure bool, log *slog.Logger) *scs.SessionManager {
	sm := scs.New()
	sm.ErrorFunc = func(w http.ResponseWriter, r *http.Request, err error) {
		log.ErrorContext(r.Context(), "session", "error", err)
		http.Error(w, "The session could not be read or written. Nothing has been lost; try again.",
			http.StatusInternalServerError)
	}
	sm.Store = st.People.Sessions()
	sm.Lifetime = sessionLife
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
func (s *Server) session(next echo.HandlerFunc) echo.HandlerFunc {
	return echo.WrapMiddleware(s.sessions.LoadAndSave)(func(c echo.Context) error {
		err := s.loadPerson(c)
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

func (s *Server) loadPerson(c echo.Context) error {
	ctx := c.Request().Context()
	id := s.sessions.GetString(ctx, keyPerson)
	if id == "" {
		return nil
	}
	now := s.app.Now()
	seen := time.Unix(s.sessions.GetInt64(ctx, keySeen), 0)
	if now.Sub(seen) > sessionIdle {
		return s.sessions.Destroy(ctx)
	}
	p, err := s.store.People.ByID(ctx, id)
	if err != nil && records.KindOf(err) != records.NotFound {
		return err
	}
	if err != nil || !p.Active || s.sessions.GetInt(ctx, keyCount) != p.SignIns {
		return s.sessions.Destroy(ctx)
	}
	if now.Sub(seen) > seenEvery {
		s.sessions.Put(ctx, keySeen, now.Unix())
	}
	c.Set(contextPerson, p)
	return nil
}

// person returns who is signed in. Behind a guard there always is somebody.
func person(c echo.Context) records.Person {
	p, _ := c.Get(contextPerson).(records.Person)
	return p
}

func actorOf(c echo.Context) records.Actor {
	p := person(c)
	return records.Actor{ID: p.ID, Name: p.Name}
}

// say keeps a sentence for the next page.
func (s *Server) say(c echo.Context, text string) {
	s.sessions.Put(c.Request().Context(), keyFlash, text)
}

type signInPage struct {
	base
	Next, Email, Error string
}

func (s *Server) signInForm(c echo.Context) error {
	if person(c).ID != "" {
		return c.Redirect(http.StatusSeeOther, "/")
	}
	return s.page(c, http.StatusOK, "sign-in", signInPage{base: s.base(c, "Sign in"),
		Next: localPath(c.QueryParam("next"))})
}

// signIn begins a session for e-mail and password.
func (s *Server) signIn(c echo.Context) error {
	ctx := c.Request().Context()
	email, password := strings.TrimSpace(c.FormValue("email")), c.FormValue("password")
	data := signInPage{base: s.base(c, "Sign in"), Next: localPath(c.FormValue("next")), Email: email}
	if !s.tries.allow("address "+c.RealIP(), "account "+email) {
		data.Error = "Too many tries. Wait a minute, then try again."
		c.Response().Header().Set("Retry-After", "60")
		return s.page(c, http.StatusTooManyRequests, "sign-in", data)
	}
	p, ok, err := s.accounts.SignIn(ctx, email, password)
	if err != nil {
		return err
	}
	if !ok {
		data.Error = "E-mail and password do not belong together, or the account is not active."
		return s.page(c, http.StatusUnprocessableEntity, "sign-in", data)
	}
	if err := s.begin(c, p); err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, data.Next)
}

// begin begins a session of a person, under a new token.
func (s *Server) begin(c echo.Context, p records.Person) error {
	ctx := c.Request().Context()
	if err := s.sessions.RenewToken(ctx); err != nil {
		return err
	}
	s.sessions.Put(ctx, keyPerson, p.ID)
	s.sessions.Put(ctx, keyCount, p.SignIns)
	s.sessions.Put(ctx, keySeen, s.app.Now().Unix())
	return nil
}

func (s *Server) signOut(c echo.Context) error {
	if err := s.sessions.Destroy(c.Request().Context()); err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, "/sign-in")
}

// localPath returns next if it is a path on this server, otherwise the home
// page: a sign-in link must not lead elsewhere.
func localPath(next string) string {
	u, err := url.Parse(next)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") ||
		strings.ContainsAny(next, "\\\r\n") {
		return "/"
	}
	return next
}
