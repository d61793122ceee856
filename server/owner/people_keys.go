package owner

import (
	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// personPage changes a person and holds the keys with which programs act for
// them.
type personPage struct {
	web.Base
	Person records.Person
	Form   web.Form
	Second string // what they sign in with besides the password, in words
	Lost   bool   // the owner may take that away
	Open   int    // sessions
	Used   string // when the last of them was
	Keys   web.KeysView
}

// shownKey is what the keys part of the page shows after a form.
type shownKey struct{ made, label, refused string }

func (pe People) showOne(c echo.Context, status int, p records.Person, form web.Form, k shownKey) error {
	keys, err := pe.KeysOf(c.Request().Context(), p, false, "/people/"+p.ID+"/keys")
	if err != nil {
		return err
	}
	keys.Made, keys.Label, keys.Error = k.made, k.label, k.refused
	data := personPage{Base: pe.Base(c, p.Name), Person: p, Form: form, Keys: keys}
	if err := pe.signIn(c, p, &data); err != nil {
		return err
	}
	return pe.Page(c, status, "person", data)
}

// AddKey makes a key for a program. It is shown in the answer itself: only
// its hash is stored, so no later page can show it.
func (pe People) AddKey(c echo.Context) error {
	p, err := pe.Store.People.ByID(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	form := personForm("/people/"+p.ID, "Save", p, false)
	key, err := pe.MakeKey(c, p.ID)
	if err != nil && (records.KindOf(err) == records.Invalid || records.KindOf(err) == records.Conflict) {
		return pe.showOne(c, web.StatusOf(records.KindOf(err)), p, form, shownKey{refused: err.Error()})
	}
	if err != nil {
		return err
	}
	return pe.showOne(c, web.OK, p, form, shownKey{made: key.Token, label: key.Label})
}

func (pe People) EndKey(c echo.Context) error {
	err := pe.Store.People.RevokeKey(c.Request().Context(), web.ActorOf(c), c.Param("id"), c.Param("key"))
	return pe.Done(c, err, "The key no longer works.", "/people/"+c.Param("id"))
}
