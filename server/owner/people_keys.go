package owner

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// personPage changes a person and holds the keys with which programs act for
// them.
type personPage struct {
	web.Base
	Person   records.Person
	Form     web.Form
	Keys     []keyLine
	NewKey   string // shown once, after it was made
	KeyLabel string
	KeyError string
}

type keyLine struct {
	ID, Label, Made, Revoked string
}

// shownKey is what the keys part of the page shows after a form.
type shownKey struct{ made, label, refused string }

func (pe People) showOne(c echo.Context, status int, p records.Person, form web.Form, k shownKey) error {
	keys, err := pe.Store.People.Keys(c.Request().Context(), p.ID)
	if err != nil {
		return err
	}
	data := personPage{Base: pe.Base(c, p.Name), Person: p, Form: form, NewKey: k.made, KeyLabel: k.label,
		KeyError: k.refused}
	for _, key := range keys {
		data.Keys = append(data.Keys, keyLine{ID: key.ID, Label: key.Label, Made: pe.Clock(key.CreatedAt),
			Revoked: pe.Clock(key.RevokedAt)})
	}
	return pe.Page(c, status, "person", data)
}

// AddKey makes a key for a program. It is shown in the answer itself: only
// its hash is stored, so no later page can show it.
func (pe People) AddKey(c echo.Context) error {
	ctx := c.Request().Context()
	p, err := pe.Store.People.ByID(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	form := personForm("/people/"+p.ID, "Save", p, false)
	label := c.FormValue("label")
	key, err := pe.Store.People.NewKey(ctx, web.ActorOf(c), p.ID, label)
	if err != nil && (records.KindOf(err) == records.Invalid || records.KindOf(err) == records.Conflict) {
		return pe.showOne(c, web.StatusOf(records.KindOf(err)), p, form, shownKey{label: label, refused: err.Error()})
	}
	if err != nil {
		return err
	}
	return pe.showOne(c, http.StatusOK, p, form, shownKey{made: key.Token, label: key.Label})
}

func (pe People) EndKey(c echo.Context) error {
	if err := pe.Store.People.RevokeKey(c.Request().Context(), web.ActorOf(c), c.Param("id"),
		c.Param("key")); err != nil {
		return err
	}
	pe.Flash(c, "The key no longer works.")
	return web.Redirect(c, "/people/"+c.Param("id"))
}
