package owner

import (
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/signin"
	"gaugebook/server/web"
)

// People is who signs in, their links, their keys and their sessions.
type People struct {
	*web.Kit
	Steps *signin.Steps
}

type peoplePage struct {
	web.Base
	People []personLine
	Mail   bool // there is an address to send links from
	Form   web.Form
}

type personLine struct {
	records.Person
	State  records.DutyState
	Until  string
	Link   string // how the link to set a password stands
	Open   bool   // the link works
	Joined bool   // has a password
}

func personForm(action, button string, p records.Person, isNew bool) web.Form {
	f := web.Form{Action: action, Button: button, Inputs: []*web.Input{
		web.TextInput("name", "Name", 80).Must().Autocomplete("off").With(p.Name),
		web.TextInput("email", "E-mail, to sign in with", 120).Must().Typed("email").Autocomplete("off").With(p.Email),
		web.Select("role", "Role", records.Roles, "Choose").Must().With(string(p.Role)),
		web.TextInput("licence", "Licence number", 40).Hinted("Of an engineer, with the registration body.").
			With(p.Licence),
		web.DateInput("competence_until",
			"Competence valid until").Hinted("The earliest date on the licence card. No record can be issued for " +
			"work after it.").With(p.CompetenceUntil.String()),
	}}
	if isNew {
		f.Inputs = append(f.Inputs, web.TextInput("password", "Password",
			200).Typed("password").Autocomplete("new-password").
			Hinted("Leave blank: they get a link by e-mail and set their own. Only where no e-mail can be sent, "+
				"choose a first one for them, 12 characters or more."))
	} else {
		active := web.Select("active", "Account", []string{"active", "closed"}, "")
		active.Hint = "A closed account cannot sign in; its sessions, keys and links end at once. Records keep the " +
			"name."
		active.Set(map[bool]string{true: "active", false: "closed"}[p.Active])
		f.Inputs = append(f.Inputs, active)
	}
	return f
}

func (pe People) showAll(c echo.Context, status int, form web.Form) error {
	people, err := pe.Store.People.List(c.Request().Context())
	if err != nil {
		return err
	}
	links, err := pe.Store.People.Invitations(c.Request().Context())
	if err != nil {
		return err
	}
	firm, err := pe.Store.Settings.Firm(c.Request().Context())
	if err != nil {
		return err
	}
	data := peoplePage{Base: pe.WideBase(c, "People"), Mail: firm.Email != "", Form: form}
	for _, p := range people {
		line := personLine{Person: p, Until: p.CompetenceUntil.Long(), Joined: p.PasswordHash != ""}
		line.Link, line.Open = pe.inviteState(links[p.ID], pe.App.Now())
		if !p.CompetenceUntil.IsZero() {
			line.State = records.Duty{Due: p.CompetenceUntil}.StateOn(data.Today)
		}
		data.People = append(data.People, line)
	}
	return pe.Page(c, status, "people", data)
}

func newPersonForm() web.Form { return personForm("/people", "Add", records.Person{}, true) }

func (pe People) List(c echo.Context) error { return pe.showAll(c, web.OK, newPersonForm()) }

// Add adds somebody and sends them a link, unless the owner chose a
// first password for them.
func (pe People) Add(c echo.Context) error {
	return pe.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return newPersonForm(), nil },
		Save: func(v url.Values) (string, error) {
			p, err := personOf(v)
			if password := v.Get("password"); err == nil && password != "" {
				p.PasswordHash, err = pe.App.PasswordOf(c.Request().Context(), p, password)
			}
			if err != nil {
				return "", err
			}
			p.Active = true
			if p, err = pe.Store.People.Create(c.Request().Context(), web.ActorOf(c), p); err != nil {
				return "", err
			}
			said := "Added. They can sign in now."
			if p.PasswordHash == "" {
				said = "Added. A link to set their password is on its way to " + p.Email + "."
				if _, err := pe.App.Invite(c.Request().Context(), web.ActorOf(c), p.ID); err != nil {
					said = "Added, but no link could be sent: " + err.Error() + "."
				}
			}
			pe.Flash(c, said)
			return "/people", nil
		},
		Show: func(status int, f web.Form) error { return pe.showAll(c, status, f) },
	})
}

func personOf(v url.Values) (records.Person, error) {
	p := records.Person{Name: v.Get("name"), Email: v.Get("email"), Role: records.Role(v.Get("role")),
		Licence: v.Get("licence"),
		Active:  v.Get("active") == "active"}
	var err error
	p.CompetenceUntil, err = web.DateOf(v, "competence_until", "Competence valid until")
	return p, err
}

func (pe People) Edit(c echo.Context) error {
	p, err := pe.Store.People.ByID(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return pe.showOne(c, web.OK, p, personForm("/people/"+p.ID, "Save", p, false), shownKey{})
}

func (pe People) Save(c echo.Context) error {
	id, ctx := c.Param("id"), c.Request().Context()
	was, err := pe.Store.People.ByID(ctx, id)
	if err != nil {
		return err
	}
	return pe.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return personForm("/people/"+id, "Save", records.Person{}, false), nil },
		Save: func(v url.Values) (string, error) {
			p, err := personOf(v)
			p.ID = id
			if err == nil {
				_, err = pe.App.ChangePerson(ctx, web.ActorOf(c), p)
			}
			return "/people", err
		},
		Said: "Saved.",
		Show: func(status int, f web.Form) error { return pe.showOne(c, status, was, f, shownKey{}) },
	})
}
