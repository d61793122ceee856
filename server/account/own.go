package account

import (
	"context"
	"fmt"
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/signin"
	"gaugebook/server/web"
)

// Own is a person's own account: how they sign in, where they are signed in, and
// what acts for them.
type Own struct {
	*web.Kit
	Steps *signin.Steps
}

type ownPage struct {
	web.Base
	Email    string
	Second   secondView
	Sessions []sessionLine
	Others   bool // sessions besides this one
	Last     []attemptLine
	Keys     web.KeysView
}

// secondView is what the account asks for besides the password.
type secondView struct {
	Set, Codes        bool
	CodesMade, UsedAt string
	Recovery          int
	RecoveryMade      string
	Passkeys          []passkeyLine
}

type passkeyLine struct {
	ID, Name, Made, Used string
	Elsewhere            string // the host that it works for, if it is not this one
}

// sessionLine is one place where the person is signed in.
type sessionLine struct {
	ID, Device, Address, Means, Since, Used string
	Here                                    bool
}

// attemptLine is one time that somebody signed in, or was refused.
type attemptLine struct{ When, Device, Address, Means, Became string }

func (o Own) show(c echo.Context, status int, change func(*ownPage)) error {
	ctx, p := c.Request().Context(), web.Person(c)
	data := ownPage{Base: o.Base(c, "Your sign-in"), Email: p.Email}
	var err error
	if data.Keys, err = o.KeysOf(ctx, p, true, "/account/keys"); err != nil {
		return err
	}
	if data.Second, err = o.second(ctx, p); err != nil {
		return err
	}
	if err := o.signIns(c, p, &data); err != nil {
		return err
	}
	change(&data)
	return o.Page(c, status, "account", data)
}

func (o Own) second(ctx context.Context, p records.Person) (v secondView, err error) {
	has, err := o.Steps.Of(ctx, p.ID)
	v = secondView{Set: has.Set(), Codes: has.Codes, CodesMade: o.Clock(has.CodesMadeAt),
		UsedAt: o.Clock(has.CodesUsedAt), Recovery: has.Recovery, RecoveryMade: o.Clock(has.RecoveryMade)}
	for _, k := range has.Passkeys {
		line := passkeyLine{ID: k.ID, Name: k.Name, Made: o.Clock(k.MadeAt), Used: o.Clock(k.UsedAt)}
		if k.Host != o.Steps.Host() {
			line.Elsewhere = k.Host
		}
		v.Passkeys = append(v.Passkeys, line)
	}
	return v, err
}

// signIns shows where the person is signed in, and the last times that somebody
// did or tried to.
func (o Own) signIns(c echo.Context, p records.Person, data *ownPage) error {
	all, err := o.Store.SignIns.Of(c.Request().Context(), p.ID)
	now := o.App.Now()
	for _, in := range all {
		if in.Open(now) {
			line := sessionLine{ID: in.ID, Device: in.Device, Address: in.Address, Means: in.Means,
				Since: o.Clock(in.At), Used: o.Clock(in.UsedAt), Here: in.ID == o.SessionID(c)}
			data.Sessions = append(data.Sessions, line)
			data.Others = data.Others || !line.Here
		}
		if len(data.Last) < store.KeptSignIns {
			data.Last = append(data.Last, attemptLine{When: o.Clock(in.At), Device: in.Device, Address: in.Address,
				Means: in.Means, Became: o.became(in)})
		}
	}
	return err
}

// became says what came of a sign-in.
func (o Own) became(in records.SignIn) string {
	switch {
	case in.Refused != "":
		return "refused: " + in.Refused
	case in.Open(o.App.Now()):
		return "signed in"
	case in.EndedAt.IsZero():
		return "ended: not used"
	}
	return "ended " + o.Clock(in.EndedAt) + ": " + in.EndedWhy
}

func (o Own) Show(c echo.Context) error {
	return o.show(c, http.StatusOK, func(*ownPage) {})
}

// EndSession ends one of one's own sessions.
func (o Own) EndSession(c echo.Context) error {
	err := o.Steps.EndSession(c.Request().Context(), web.Person(c), c.Param("session"))
	return o.Done(c, err, "That session has ended.", "/account#sessions")
}

// EndOthers ends all of one's own sessions but this one.
func (o Own) EndOthers(c echo.Context) error {
	p := web.Person(c)
	n, err := o.Steps.EndSessions(c.Request().Context(), p.Actor(), p, o.SessionID(c))
	return o.Done(c, err, fmt.Sprintf("You are signed in here and nowhere else. Sessions ended: %d.", n),
		"/account#sessions")
}

// AddKey makes a key for oneself; only so can one be made that issues records.
func (o Own) AddKey(c echo.Context) error {
	key, err := o.MakeKey(c, web.Person(c).ID)
	if kind := records.KindOf(err); err != nil && (kind == records.Invalid || kind == records.Conflict) {
		return o.show(c, web.StatusOf(kind), func(p *ownPage) { p.Keys.Error = err.Error() })
	}
	if err != nil {
		return err
	}
	return o.show(c, http.StatusOK, func(p *ownPage) { p.Keys.Made, p.Keys.Label = key.Token, key.Label })
}

func (o Own) EndKey(c echo.Context) error {
	if err := o.Store.People.RevokeKey(c.Request().Context(), web.ActorOf(c), web.Person(c).ID,
		c.Param("key")); err != nil {
		return err
	}
	o.Flash(c, "The key no longer works.")
	return web.Redirect(c, "/account#keys")
}
