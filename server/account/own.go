package account

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// Own is a person's own account: how they sign in, and what acts for them.
type Own struct{ *web.Kit }

type ownPage struct {
	web.Base
	Email string
	Keys  web.KeysView
}

func (o Own) show(c echo.Context, status int, change func(*ownPage)) error {
	p := web.Person(c)
	data := ownPage{Base: o.Base(c, "Your sign-in"), Email: p.Email}
	var err error
	if data.Keys, err = o.KeysOf(c.Request().Context(), p, true, "/account/keys"); err != nil {
		return err
	}
	change(&data)
	return o.Page(c, status, "account", data)
}

func (o Own) Show(c echo.Context) error {
	return o.show(c, http.StatusOK, func(*ownPage) {})
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
