package server

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

type appliancePage struct {
	base
	Appliance         store.Appliance
	Kind, Where       string
	Facts             []factLine
	Drafts, History   []store.RecordLine
	Duties            []dutyLine
	Contacts          []contactLine
	ContactForm       inputForm
	ContactOpen       bool
	MayStart, MayLift bool
	Purposes          []optionForm
	WorkDate          string
	StartError        string
	Drift             drift
}

type factLine struct{ Label, Value string }

type dutyLine struct {
	ID        string
	Kind      records.DutyKind
	State     records.DutyState
	Due       records.Date
	Why       string
	Source    string
	ClosedWhy string
	Open      bool
}

type contactLine struct {
	How, Note, When, Who string
	Next                 records.Date
}

// applianceForms is what the forms of the page show again after a refusal.
type applianceForms struct {
	posted  url.Values
	start   error
	contact *inputForm
}

func (s *Server) appliance(c echo.Context) error {
	return s.appliancePage(c, http.StatusOK, applianceForms{})
}

func (s *Server) appliancePage(c echo.Context, status int, forms applianceForms) error {
	ctx := c.Request().Context()
	a, err := s.store.Register.Appliance(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	role := person(c).Role
	data := appliancePage{base: s.deskBase(c, a.Values.ApplianceName()), Appliance: a,
		Kind:  records.ApplianceKind.ChoiceLabel(a.Values.Choice(records.ApplianceKind)),
		Where: a.Values.Text(records.ApplianceLocation), Facts: factsOf(a.Values),
		MayStart: engineers.allows(role) && !a.Retired, MayLift: desk.allows(role)}
	data.WorkDate, data.Purposes = data.Today.String(), pick("", "", records.Purposes,
		"").chosen(forms.posted.Get("purpose")).Options
	if forms.start != nil {
		data.StartError, data.WorkDate = forms.start.Error(), forms.posted.Get("work_date")
	}
	data.ContactForm = contactForm(a.ID)
	if forms.contact != nil {
		data.ContactForm, data.ContactOpen = *forms.contact, true
	}
	if err := s.applianceLists(c, &data); err != nil {
		return err
	}
	return s.page(c, status, "appliance", data)
}

func (s *Server) applianceLists(c echo.Context, data *appliancePage) error {
	ctx, id := c.Request().Context(), data.Appliance.ID
	history, err := s.store.Records.History(ctx, id)
	if err != nil {
		return err
	}
	for _, line := range history {
		if line.Stage == records.Draft {
			data.Drafts = append(data.Drafts, line)
		} else {
			data.History = append(data.History, line)
		}
	}
	if data.Drift, err = s.drift(ctx, id); err != nil {
		return err
	}
	duties, err := s.store.Duties.OfAppliance(ctx, id)
	if err != nil {
		return err
	}
	for _, d := range duties {
		data.Duties = append(data.Duties, dutyLine{ID: d.ID, Kind: d.Duty.Kind, State: d.StateOn(data.Today),
			Due: d.Duty.Due, Why: d.Duty.Why,
			Source: d.Duty.Source.String(), ClosedWhy: d.ClosedWhy, Open: !d.Closed()})
	}
	log, err := s.store.Chase.ContactAttempts(ctx, id)
	for _, k := range log {
		data.Contacts = append(data.Contacts, contactLine{How: k.How, Note: k.Note, When: s.clock(k.At),
			Who: k.By.Name, Next: k.NextAction})
	}
	return err
}

// factsOf lists the entered fields of the appliance section.
func factsOf(vs records.Values) []factLine {
	var out []factLine
	for _, f := range records.ApplianceSection.Fields() {
		v := vs[f.Key]
		if !v.Present() {
			continue
		}
		text := plain(f, v)
		if f.Kind == records.FlagKind {
			text = upper(text)
		}
		out = append(out, factLine{f.Label, text})
	}
	for _, k := range oldEntriesOf(&records.Record{Values: vs}) {
		out = append(out, factLine{k.Label, k.Text})
	}
	return out
}

// contactWays are the ways of trying to reach a customer. No access: somebody
// came and was not let in.
var contactWays = []string{"telephone", "e-mail", "letter", "text message", "visit", "no access"}

func contactForm(applianceID string) inputForm {
	how := pick("how", "How", contactWays, "Choose").must()
	return inputForm{Action: "/appliances/" + applianceID + "/contacts", Button: "Add to the log", Inputs: []*input{
		how, {Name: "note", Label: "What was said", Type: "textarea", Max: 2000}, dateInput("next", "Try again on"),
	}}
}

func (s *Server) addContact(c echo.Context) error {
	id := c.Param("id")
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) { return contactForm(id), nil },
		save: func(v url.Values) (string, error) {
			next, err := dateOf(v, "next", "Try again on")
			if err == nil {
				_, err = s.store.Chase.AddContactAttempt(c.Request().Context(), actorOf(c), id, v.Get("how"),
					v.Get("note"),
					next)
			}
			return "/appliances/" + id, err
		},
		said: "Added to the log.",
		show: func(status int, f inputForm) error {
			return s.appliancePage(c, status, applianceForms{contact: &f})
		},
	})
}

func (s *Server) liftDuty(c echo.Context) error {
	if err := s.store.Duties.Lift(c.Request().Context(), actorOf(c), c.Param("duty"), c.FormValue("why")); err != nil {
		return err
	}
	s.say(c, "The duty has been closed: it no longer applies.")
	return see(c, "/appliances/"+c.Param("id"))
}

func (s *Server) finishDuty(c echo.Context) error {
	if err := s.store.Duties.Finish(c.Request().Context(), actorOf(c), c.Param("duty"),
		c.FormValue("why")); err != nil {
		return err
	}
	s.say(c, "The duty has been marked as done.")
	return see(c, "/appliances/"+c.Param("id"))
}

func (s *Server) retire(c echo.Context) error {
	if err := s.store.Register.RetireAppliance(c.Request().Context(), actorOf(c), c.Param("id"),
		c.FormValue("why")); err != nil {
		return err
	}
	s.say(c, "Taken out of the register.")
	return see(c, "/appliances/"+c.Param("id"))
}
