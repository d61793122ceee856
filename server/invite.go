package server

import (
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/templates/mail"
)

// People set their own passwords: an owner enters who they are, a letter
// brings them a link that works once, for a week.

// sendInvite puts a link for a person into the outbox.
func (s *Server) sendInvite(c echo.Context, personID string) (records.Person, error) {
	ctx := c.Request().Context()
	firm, err := s.store.Settings.Firm(ctx)
	if err != nil {
		return records.Person{}, err
	}
	if firm.Email == "" {
		return records.Person{}, records.Fail(records.Conflict,
			"the firm has no e-mail address to send from: give one under Firm first")
	}
	var to records.Person
	_, err = s.store.People.Invite(ctx, actorOf(c), personID,
		func(p records.Person, i records.Invitation) records.Message {
			to = p
			return s.inviteMessage(p, i, firm)
		})
	if err == nil {
		s.wake()
	}
	return to, err
}

func (s *Server) inviteMessage(p records.Person, i records.Invitation, firm records.Firm) records.Message {
	m := mail.Invitation{Name: p.Name, By: i.MadeBy, Firm: firm.Name, Email: p.Email,
		Link: s.book.BaseURL + "/join/" + i.Token, Until: s.fullClock(i.ExpiresAt)}.Message()
	return records.Message{Kind: records.InvitationKind, ToName: p.Name, ToEmail: p.Email, Subject: cut(m.Subject, 200),
		Text: m.Text, HTML: m.HTML}
}

// invite sends a person a link, in place of one that they have: the first
// time, again, or because the password was forgotten.
func (s *Server) invite(c echo.Context) error {
	p, err := s.sendInvite(c, c.Param("id"))
	if err != nil {
		return err
	}
	s.say(c, "A link to set the password is on its way to "+p.Email+". It works once, for seven days.")
	return see(c, "/people")
}

func (s *Server) revokeInvite(c echo.Context) error {
	if err := s.store.People.RevokeInvitation(c.Request().Context(), actorOf(c), c.Param("id")); err != nil {
		return err
	}
	s.say(c, "The link no longer works.")
	return see(c, "/people")
}

// inviteState says in words how a person's link stands; blank when nothing is
// to be said.
func (s *Server) inviteState(i records.Invitation, now time.Time) (words string, open bool) {
	switch {
	case i.ID == "" || i.EndedWhy == "used":
		return "", false
	case i.Open(now):
		return "link sent, works until " + s.clock(i.ExpiresAt), true
	case i.EndedWhy != "":
		return "link " + i.EndedWhy, false
	}
	return "link expired unused", false
}

// joinPage is what an invited person meets.
type joinPage struct {
	base
	Person records.Person
	Form   inputForm
}

func passwordInputs() []*input {
	return []*input{
		line("password", "New password",
			200).must().typed("password").auto("new-password").hint("12 characters or more; a few words are easier " +
			"to remember than signs."),
		line("again", "The same once more", 200).must().typed("password").auto("new-password"),
	}
}

// newPassword hashes the password of a form, if it will do for the person.
func newPassword(v url.Values, p records.Person) (string, error) {
	password := v.Get("password")
	refuse := func(field, label, want string) error {
		return &records.Error{Kind: records.Invalid, Field: field, Label: label, Want: want}
	}
	if strings.EqualFold(strings.TrimSpace(password), p.Email) {
		return "", refuse("password", "New password", "something other than your e-mail address")
	}
	if v.Get("again") != password {
		return "", refuse("again", "The same once more", "exactly what stands in the field above")
	}
	return HashPassword(password)
}

func (s *Server) joinPage(c echo.Context, status int, p records.Person, f inputForm) error {
	data := joinPage{base: s.base(c, "Set your password"), Person: p, Form: f}
	data.Private = true
	return s.page(c, status, "join", data)
}

func joinForm(token string) inputForm {
	return inputForm{Action: "/join/" + token, Button: "Set it and sign in", Inputs: passwordInputs()}
}

// invited finds whom a link is for; tries are limited like those of sign-in.
func (s *Server) invited(c echo.Context) (records.Person, error) {
	if !s.looks.allow("address " + c.RealIP()) {
		return records.Person{}, echo.NewHTTPError(http.StatusTooManyRequests,
			"too many tries: wait a minute, then try again")
	}
	return s.store.People.Invited(c.Request().Context(), c.Param("token"))
}

func (s *Server) join(c echo.Context) error {
	p, err := s.invited(c)
	if err != nil {
		return err
	}
	return s.joinPage(c, http.StatusOK, p, joinForm(c.Param("token")))
}

func (s *Server) acceptInvite(c echo.Context) error {
	p, err := s.invited(c)
	if err != nil {
		return err
	}
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) { return joinForm(c.Param("token")), nil },
		save: func(v url.Values) (string, error) {
			hash, err := newPassword(v, p)
			if err != nil {
				return "", err
			}
			if p, err = s.store.People.AcceptInvitation(c.Request().Context(), c.Param("token"), hash); err != nil {
				return "", err
			}
			return "/", s.begin(c, p)
		},
		said: "Your password is set. You are signed in.",
		show: func(status int, f inputForm) error { return s.joinPage(c, status, p, f) },
	})
}

func passwordForm() inputForm {
	return inputForm{Action: "/password", Button: "Change it",
		Inputs: append([]*input{line("present", "Present password",
			200).must().typed("password").auto("current-password")}, passwordInputs()...)}
}

func (s *Server) passwordPage(c echo.Context, status int, f inputForm) error {
	return s.page(c, status, "form", formPage{base: s.base(c, "Password"), Trail: navItem{Href: "/", Text: "Today"},
		Heading: "Change your password",
		Intro:   "You stay signed in here and are signed out everywhere else.", Form: f})
}

func (s *Server) password(c echo.Context) error {
	return s.passwordPage(c, http.StatusOK, passwordForm())
}

// savePassword changes one's own password. Guesses at the present one are
// limited as at sign-in: an open session must not be enough.
func (s *Server) savePassword(c echo.Context) error {
	ctx, p := c.Request().Context(), person(c)
	if !s.tries.allow("address "+c.RealIP(), "account "+p.Email) {
		return echo.NewHTTPError(http.StatusTooManyRequests, "too many tries: wait a minute, then try again")
	}
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) { return passwordForm(), nil },
		save: func(v url.Values) (string, error) {
			ok, err := s.passwords.matches(ctx, v.Get("present"), p.PasswordHash)
			if err != nil {
				return "", err
			}
			if !ok {
				return "", &records.Error{Kind: records.Invalid, Field: "present", Label: "Present password",
					Msg: "this is not it"}
			}
			hash, err := newPassword(v, p)
			if err != nil {
				return "", err
			}
			if err := s.store.People.SetPassword(ctx, actorOf(c), p.ID, hash); err != nil {
				return "", err
			}
			now, err := s.store.People.ByID(ctx, p.ID)
			if err != nil {
				return "", err
			}
			return "/", s.begin(c, now)
		},
		said: "Your password has been changed.",
		show: func(status int, f inputForm) error { return s.passwordPage(c, status, f) },
	})
}
