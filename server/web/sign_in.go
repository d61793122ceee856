package web

import (
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

// halfFor is how long somebody may take between the password and what their
// account asks for besides.
const halfFor = 10 * time.Minute

// Keys of what a session holds between the two steps.
const (
	keyHalf      = "half"
	keyHalfCount = "half sign-ins"
	keyHalfAt    = "half at"
	keyHalfBy    = "half by"
)

// signIn describes a sign-in from what the request says.
func signIn(c echo.Context, p records.Person, means string) records.SignIn {
	return records.SignIn{PersonID: p.ID, Means: means, Device: deviceWords(c.Request().UserAgent()),
		Address: strings.TrimPrefix(AddressOf(c), "address ")}
}

// BeginSession begins a session of a person, under a new token, and says by what
// means they signed in. One that was open in the browser ends.
func (k *Kit) BeginSession(c echo.Context, p records.Person, means string) error {
	ctx := c.Request().Context()
	if err := k.leave(c, "signed in again"); err != nil {
		return err
	}
	in, err := k.Store.SignIns.Add(ctx, signIn(c, p, means))
	if err != nil {
		return err
	}
	if err := k.sessions.RenewToken(ctx); err != nil {
		return err
	}
	k.notHalf(c)
	k.sessions.Put(ctx, keyPerson, p.ID)
	k.sessions.Put(ctx, keyCount, p.SignIns)
	k.sessions.Put(ctx, keySignIn, in.ID)
	k.Proved(c)
	k.rememberDevice(c, p)
	return nil
}

// BeginHalf keeps that the first of two steps was right. Nobody is signed in by
// that.
func (k *Kit) BeginHalf(c echo.Context, p records.Person, means string) error {
	ctx := c.Request().Context()
	if err := k.leave(c, "signed in again"); err != nil {
		return err
	}
	if err := k.sessions.RenewToken(ctx); err != nil {
		return err
	}
	k.sessions.Remove(ctx, keyPerson)
	k.sessions.Put(ctx, keyHalf, p.ID)
	k.sessions.Put(ctx, keyHalfCount, p.SignIns)
	k.sessions.Put(ctx, keyHalfAt, k.App.Now().Unix())
	k.sessions.Put(ctx, keyHalfBy, means)
	return nil
}

// Half returns who has done the first step a short time ago, and by what means;
// no person when nobody has.
func (k *Kit) Half(c echo.Context) (p records.Person, means string, err error) {
	ctx := c.Request().Context()
	id, at := k.sessions.GetString(ctx, keyHalf), time.Unix(k.sessions.GetInt64(ctx, keyHalfAt), 0)
	if age := k.App.Now().Sub(at); id == "" || age < -time.Minute || age > halfFor {
		return p, "", nil
	}
	p, err = k.Store.People.ByID(ctx, id)
	if err != nil && records.KindOf(err) != records.NotFound {
		return p, "", err
	}
	if err != nil || !p.Active || p.SignIns != k.sessions.GetInt(ctx, keyHalfCount) {
		return records.Person{}, "", nil
	}
	return p, k.sessions.GetString(ctx, keyHalfBy), nil
}

func (k *Kit) notHalf(c echo.Context) {
	for _, key := range []string{keyHalf, keyHalfCount, keyHalfAt, keyHalfBy} {
		k.sessions.Remove(c.Request().Context(), key)
	}
}

// NoteRefused keeps that somebody was not let in, and why. It is as much work for
// an address that nobody has.
func (k *Kit) NoteRefused(c echo.Context, p records.Person, means, why string) error {
	in := signIn(c, p, means)
	in.Refused = why
	_, err := k.Store.SignIns.Add(c.Request().Context(), in)
	return err
}

// SessionID names the session of the request in the list of sign-ins.
func (k *Kit) SessionID(c echo.Context) string {
	return k.sessions.GetString(c.Request().Context(), keySignIn)
}

// EndSession signs a person out.
func (k *Kit) EndSession(c echo.Context) error {
	if err := k.leave(c, "signed out"); err != nil {
		return err
	}
	return k.sessions.Destroy(c.Request().Context())
}

// leave ends the session that the browser has, if any, in the list of sign-ins.
func (k *Kit) leave(c echo.Context, why string) error {
	ctx := c.Request().Context()
	id, person := k.SessionID(c), k.sessions.GetString(ctx, keyPerson)
	if id == "" {
		return nil
	}
	actor := Person(c).Actor()
	if actor.ID == "" {
		actor = records.SystemActor
	}
	err := k.Store.SignIns.End(ctx, actor, person, id, why)
	if records.KindOf(err) == records.NotFound {
		return nil // it has ended already
	}
	return err
}

// stillOpen reports whether the session of a person has not been ended, and notes
// its use. A session of before there was a list is put on it.
func (k *Kit) stillOpen(c echo.Context, p records.Person) (bool, error) {
	ctx, now := c.Request().Context(), k.App.Now()
	id := k.SessionID(c)
	if id == "" {
		if seen := time.Unix(k.sessions.GetInt64(ctx, keySeen), 0); now.Sub(seen) > records.SessionIdle {
			return false, nil
		}
		in, err := k.Store.SignIns.Add(ctx, signIn(c, p, records.ByPassword))
		k.sessions.Put(ctx, keySignIn, in.ID)
		return err == nil, err
	}
	in, err := k.Store.SignIns.Find(ctx, id)
	if records.KindOf(err) == records.NotFound {
		return false, nil
	}
	if err != nil || !in.Open(now) {
		return false, err
	}
	if now.Sub(in.UsedAt) > seenEvery {
		return true, k.Store.SignIns.Used(ctx, id)
	}
	return true, nil
}

// setUpPage is where an owner sets up a second step.
const setUpPage = "/account/second-step"

// SetUpFirst sends an owner who needs a second step and has none to the page where
// they set one up, whatever they came for.
func (k *Kit) SetUpFirst(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		must, err := k.Store.SecondSteps.MustSetUp(c.Request().Context(), Person(c))
		if err != nil {
			return err
		}
		if must {
			return Redirect(c, setUpPage)
		}
		return next(c)
	}
}
