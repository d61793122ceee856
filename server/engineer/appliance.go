package engineer

import (
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

// Appliances is the pages of an appliance.
type Appliances struct{ *web.Kit }

type appliancePage struct {
	web.Base
	Appliance         store.Appliance
	Kind, Where       string
	Facts             []factLine
	Drafts, History   []store.RecordLine
	Duties            []dutyLine
	Contacts          []web.ContactLine
	ContactForm       web.Form
	ContactOpen       bool
	DutyForm          web.Form
	DutyOpen          bool
	MayStart, MayLift bool
	Purposes          []web.Option
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

// applianceForms is what the forms of the page show again after a refusal.
type applianceForms struct {
	posted  url.Values
	start   error
	contact *web.Form
	duty    *web.Form
}

func (ap Appliances) Show(c echo.Context) error {
	return ap.show(c, web.OK, applianceForms{})
}

func (ap Appliances) show(c echo.Context, status int, forms applianceForms) error {
	ctx := c.Request().Context()
	a, err := ap.Store.Register.Appliance(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	role := web.Person(c).Role
	data := appliancePage{Base: ap.WideBase(c, a.Values.ApplianceName()), Appliance: a,
		Kind:  records.ApplianceKind.ChoiceLabel(a.Values.Choice(records.ApplianceKind)),
		Where: a.Values.Text(records.ApplianceLocation), Facts: factsOf(a.Values),
		MayStart: web.Engineers.Allows(role) && !a.Retired, MayLift: web.Office.Allows(role)}
	data.WorkDate, data.Purposes = data.Today.String(), web.Select("", "", records.Purposes,
		"").With(forms.posted.Get("purpose")).Options
	if forms.start != nil {
		data.StartError, data.WorkDate = forms.start.Error(), forms.posted.Get("work_date")
	}
	data.ContactForm = web.ContactForm(a.ID)
	if forms.contact != nil {
		data.ContactForm, data.ContactOpen = *forms.contact, true
	}
	if data.DutyForm = dutyForm(a.ID); forms.duty != nil {
		data.DutyForm, data.DutyOpen = *forms.duty, true
	}
	if err := ap.lists(c, &data); err != nil {
		return err
	}
	return ap.Page(c, status, "appliance", data)
}

func (ap Appliances) lists(c echo.Context, data *appliancePage) error {
	ctx, id := c.Request().Context(), data.Appliance.ID
	history, err := ap.Store.Records.History(ctx, id)
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
	if data.Drift, err = ap.drift(ctx, id); err != nil {
		return err
	}
	duties, err := ap.Store.Duties.OfAppliance(ctx, id)
	if err != nil {
		return err
	}
	for _, d := range duties {
		data.Duties = append(data.Duties, dutyLine{ID: d.ID, Kind: d.Duty.Kind, State: d.StateOn(data.Today),
			Due: d.Duty.Due, Why: d.Duty.Why,
			Source: d.Duty.Source.String(), ClosedWhy: d.ClosedWhy, Open: !d.Closed()})
	}
	log, err := ap.Store.Chase.ContactAttempts(ctx, id)
	for _, k := range log {
		data.Contacts = append(data.Contacts, web.ContactLine{How: k.How, Note: k.Note, When: ap.Clock(k.At),
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
			text = records.UpperFirst(text)
		}
		out = append(out, factLine{f.Label, text})
	}
	for _, k := range oldEntriesOf(&records.Record{Values: vs}) {
		out = append(out, factLine{k.Label, k.Text})
	}
	return out
}

func (ap Appliances) AddContact(c echo.Context) error {
	id := c.Param("id")
	return ap.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return web.ContactForm(id), nil },
		Save: func(v url.Values) (string, error) {
			next, err := web.DateOf(v, "next", "Try again on")
			if err == nil {
				_, err = ap.Store.Chase.AddContactAttempt(c.Request().Context(), web.ActorOf(c), id, v.Get("how"),
					v.Get("note"),
					next)
			}
			return "/appliances/" + id, err
		},
		Said: "Added to the log.",
		Show: func(status int, f web.Form) error {
			return ap.show(c, status, applianceForms{contact: &f})
		},
	})
}

func dutyForm(applianceID string) web.Form {
	return web.Form{Action: "/appliances/" + applianceID + "/duties", Button: "Add the duty", Inputs: []*web.Input{
		web.Select("kind", "What falls due", records.HandKinds, "Choose").Must(), web.DateInput("due", "Due").Must(),
		web.TextInput("why", "Why", 400).Hinted("Such as: last serviced by another firm in May.")}}
}

// AddDuty adds a duty that no record gave rise to, such as the service of an
// appliance that the firm has just taken on.
func (ap Appliances) AddDuty(c echo.Context) error {
	id := c.Param("id")
	return ap.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return dutyForm(id), nil },
		Save: func(v url.Values) (string, error) {
			due, err := web.DateOf(v, "due", "Due")
			if err == nil {
				_, err = ap.Store.Duties.Add(c.Request().Context(), web.ActorOf(c), id, records.Duty{
					Kind: records.DutyKind(v.Get("kind")), Due: due, Why: v.Get("why")})
			}
			return "/appliances/" + id, err
		},
		Said: "The duty was added.",
		Show: func(status int, f web.Form) error { return ap.show(c, status, applianceForms{duty: &f}) },
	})
}

func (ap Appliances) LiftDuty(c echo.Context) error {
	if err := ap.Store.Duties.Of(c.Request().Context(), c.Param("id"), c.Param("duty")); err != nil {
		return err
	}
	err := ap.Store.Duties.Lift(c.Request().Context(), web.ActorOf(c), c.Param("duty"), c.FormValue("why"))
	return ap.Done(c, err, "The duty has been closed: it no longer applies.", "/appliances/"+c.Param("id"))
}

func (ap Appliances) FinishDuty(c echo.Context) error {
	if err := ap.Store.Duties.Of(c.Request().Context(), c.Param("id"), c.Param("duty")); err != nil {
		return err
	}
	err := ap.Store.Duties.Finish(c.Request().Context(), web.ActorOf(c), c.Param("duty"), c.FormValue("why"))
	return ap.Done(c, err, "The duty has been marked as done.", "/appliances/"+c.Param("id"))
}

func (ap Appliances) Retire(c echo.Context) error {
	err := ap.Store.Register.RetireAppliance(c.Request().Context(), web.ActorOf(c), c.Param("id"), c.FormValue("why"))
	return ap.Done(c, err, "Taken out of the register.", "/appliances/"+c.Param("id"))
}
