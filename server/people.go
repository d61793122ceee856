package server

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/app"
)

type peoplePage struct {
	base
	People []personLine
	Mail   bool // there is an address to send links from
	Form   inputForm
}

type personLine struct {
	records.Person
	State  records.DutyState
	Until  string
	Link   string // how the link to set a password stands
	Open   bool   // the link works
	Joined bool   // has a password
}

// formPage is a page that holds one form and nothing else.
type formPage struct {
	base
	Trail          navItem
	Heading, Intro string
	Near           []records.PropertyEntry
	Form           inputForm
}

func personForm(action, button string, p records.Person, isNew bool) inputForm {
	f := inputForm{Action: action, Button: button, Inputs: []*input{
		line("name", "Name", 80).must().auto("off").with(p.Name),
		line("email", "E-mail, to sign in with", 120).must().typed("email").auto("off").with(p.Email),
		pick("role", "Role", records.Roles, "Choose").must().chosen(string(p.Role)),
		line("licence", "Licence number", 40).hint("Of an engineer, with the registration body.").with(p.Licence),
		dateInput("competence_until", "Competence runs until").hint("The earliest date on the licence card. No " +
			"record can be issued for work after it.").with(p.CompetenceUntil.String()),
	}}
	if isNew {
		f.Inputs = append(f.Inputs, line("password", "Password", 200).typed("password").auto("new-password").
			hint("Leave blank: they get a link by e-mail and set their own. Only where no e-mail can be sent, "+
				"choose a first one for them, 12 characters or more."))
	} else {
		active := pick("active", "Account", []string{"active", "closed"}, "")
		active.Hint = "A closed account cannot sign in; its sessions, keys and links end at once. Records keep the " +
			"name."
		active.set(map[bool]string{true: "active", false: "closed"}[p.Active])
		f.Inputs = append(f.Inputs, active)
	}
	return f
}

func (s *Server) peoplePage(c echo.Context, status int, form inputForm) error {
	people, err := s.store.People.List(c.Request().Context())
	if err != nil {
		return err
	}
	links, err := s.store.People.Invitations(c.Request().Context())
	if err != nil {
		return err
	}
	firm, err := s.store.Settings.Firm(c.Request().Context())
	if err != nil {
		return err
	}
	data := peoplePage{base: s.deskBase(c, "People"), Mail: firm.Email != "", Form: form}
	for _, p := range people {
		line := personLine{Person: p, Until: p.CompetenceUntil.Long(), Joined: p.PasswordHash != ""}
		line.Link, line.Open = s.inviteState(links[p.ID], s.app.Now())
		if !p.CompetenceUntil.IsZero() {
			line.State = records.Duty{Due: p.CompetenceUntil}.StateOn(data.Today)
		}
		data.People = append(data.People, line)
	}
	return s.page(c, status, "people", data)
}

func newPersonForm() inputForm { return personForm("/people", "Add", records.Person{}, true) }

func (s *Server) people(c echo.Context) error { return s.peoplePage(c, http.StatusOK, newPersonForm()) }

// addPerson adds somebody and sends them a link, unless the owner chose a
// first password for them.
func (s *Server) addPerson(c echo.Context) error {
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) { return newPersonForm(), nil },
		save: func(v url.Values) (string, error) {
			p, err := personOf(v, true)
			if err != nil {
				return "", err
			}
			if p, err = s.store.People.Create(c.Request().Context(), actorOf(c), p); err != nil {
				return "", err
			}
			said := "Added. They can sign in now."
			if p.PasswordHash == "" {
				said = "Added. A link to set their password is on its way to " + p.Email + "."
				if _, err := s.app.Invite(c.Request().Context(), actorOf(c), p.ID); err != nil {
					said = "Added, but no link could be sent: " + err.Error() + "."
				}
			}
			s.say(c, said)
			return "/people", nil
		},
		show: func(status int, f inputForm) error { return s.peoplePage(c, status, f) },
	})
}

// personOf reads a person; only a new one may be given a password.
func personOf(v url.Values, isNew bool) (records.Person, error) {
	p := records.Person{Name: v.Get("name"), Email: v.Get("email"), Role: records.Role(v.Get("role")),
		Licence: v.Get("licence"),
		Active:  isNew || v.Get("active") == "active"}
	var err error
	if p.CompetenceUntil, err = dateOf(v, "competence_until", "Competence runs until"); err != nil {
		return p, err
	}
	if password := v.Get("password"); isNew && password != "" {
		p.PasswordHash, err = app.HashPassword(password)
	}
	return p, err
}

func (s *Server) editPerson(c echo.Context) error {
	p, err := s.store.People.ByID(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return s.personPage(c, http.StatusOK, p, personForm("/people/"+p.ID, "Save", p, false), shownKey{})
}

func (s *Server) savePerson(c echo.Context) error {
	id, ctx := c.Param("id"), c.Request().Context()
	was, err := s.store.People.ByID(ctx, id)
	if err != nil {
		return err
	}
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) { return personForm("/people/"+id, "Save", records.Person{}, false), nil },
		save: func(v url.Values) (string, error) {
			p, err := personOf(v, false)
			p.ID = id
			if err == nil {
				_, err = s.store.People.Update(ctx, actorOf(c), p)
			}
			return "/people", err
		},
		said: "Saved.",
		show: func(status int, f inputForm) error { return s.personPage(c, status, was, f, shownKey{}) },
	})
}
