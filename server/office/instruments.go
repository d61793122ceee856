package office

import (
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// Instruments is the firm's instruments.
type Instruments struct{ *web.Kit }

type instrumentsPage struct {
	web.Base
	Instruments []instrumentLine
	MayEdit     bool
	Form        web.Form
}

type instrumentLine struct {
	ID, Name, Kind, Serial, On, Due string
	State                           records.DutyState
}

func instrumentForm(action, button string, i records.Instrument) web.Form {
	f := web.Form{Action: action, Button: button, Inputs: []*web.Input{
		web.Select("kind", "Kind", records.InstrumentKinds, "Choose").Must().With(i.Kind),
		web.TextInput("make", "Make", 60).With(i.Make), web.TextInput("model", "Model", 60).With(i.Model),
		web.TextInput("serial", "Serial number", 40).Must().With(i.Serial),
		web.DateInput("calibrated_on", "Calibrated on").With(i.CalibratedOn.String()),
		web.DateInput("calibration_due", "Calibration due").With(i.CalibrationDue.String()),
	}}
	for _, q := range records.Quantities {
		a, stated := i.Stated(q.Quantity)
		in := web.TextInput("accuracy_"+string(q.Quantity), q.Label+", step and accuracy ("+q.Unit+")", 40).
			Hinted("From its data sheet, such as 0.1 ± 0.2 or 1 ± 20 or 5 %. Blank: that of its class.")
		if stated {
			in = in.With(a.String())
		}
		f.Inputs = append(f.Inputs, in)
	}
	return f
}

func instrumentOf(v url.Values) (records.Instrument, error) {
	i := records.Instrument{Kind: v.Get("kind"), Make: v.Get("make"), Model: v.Get("model"), Serial: v.Get("serial")}
	var err error
	if i.CalibratedOn, err = web.DateOf(v, "calibrated_on", "Calibrated on"); err != nil {
		return i, err
	}
	if i.CalibrationDue, err = web.DateOf(v, "calibration_due", "Calibration due"); err != nil {
		return i, err
	}
	for _, q := range records.Quantities {
		a, stated, err := records.ParseAccuracy(q, v.Get("accuracy_"+string(q.Quantity)))
		if err != nil {
			return i, err
		}
		if stated {
			i.Accuracy = append(i.Accuracy, a)
		}
	}
	return i, nil
}

func (in Instruments) showAll(c echo.Context, status int, form web.Form) error {
	all, err := in.Store.Settings.Instruments(c.Request().Context())
	if err != nil {
		return err
	}
	data := instrumentsPage{Base: in.WideBase(c, "Instruments"), MayEdit: web.Office.Allows(web.Person(c).Role),
		Form: form}
	for _, i := range all {
		name := i.Make + " " + i.Model
		if i.Make+i.Model == "" {
			name = records.UpperFirst(i.Kind)
		}
		line := instrumentLine{ID: i.ID, Name: name, Kind: i.Kind, Serial: i.Serial, On: i.CalibratedOn.Long(),
			Due: i.CalibrationDue.Long()}
		if !i.CalibrationDue.IsZero() {
			line.State = records.Duty{Due: i.CalibrationDue}.StateOn(data.Today)
		}
		data.Instruments = append(data.Instruments, line)
	}
	return in.Page(c, status, "instruments", data)
}

func newInstrumentForm() web.Form {
	return instrumentForm("/instruments", "Add", records.Instrument{})
}

func (in Instruments) List(c echo.Context) error {
	return in.showAll(c, web.OK, newInstrumentForm())
}

func (in Instruments) Add(c echo.Context) error {
	return in.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return newInstrumentForm(), nil },
		Save: func(v url.Values) (string, error) { return "/instruments", in.store(c, "", v) },
		Said: "Added.",
		Show: func(status int, f web.Form) error { return in.showAll(c, status, f) },
	})
}

func (in Instruments) store(c echo.Context, id string, v url.Values) error {
	i, err := instrumentOf(v)
	if err != nil {
		return err
	}
	i.ID = id
	_, err = in.Store.Settings.SaveInstrument(c.Request().Context(), web.ActorOf(c), i)
	return err
}

func (in Instruments) showOne(c echo.Context, status int, form web.Form) error {
	return in.Page(c, status, "form", web.FormPage{Base: in.Base(c, "Instrument"),
		Trail:   web.NavItem{Href: "/instruments", Text: "Instruments"},
		Heading: "Change an instrument", Intro: "Issued records keep the instrument as it was on the day.", Form: form})
}

func (in Instruments) one(c echo.Context) (records.Instrument, error) {
	all, err := in.Store.Settings.Instruments(c.Request().Context())
	if err != nil {
		return records.Instrument{}, err
	}
	for _, i := range all {
		if i.ID == c.Param("id") {
			return i, nil
		}
	}
	return records.Instrument{}, records.Fail(records.NotFound, "there is no such instrument")
}

func (in Instruments) Edit(c echo.Context) error {
	i, err := in.one(c)
	if err != nil {
		return err
	}
	return in.showOne(c, web.OK, instrumentForm("/instruments/"+i.ID, "Save", i))
}

func (in Instruments) Save(c echo.Context) error {
	i, err := in.one(c)
	if err != nil {
		return err
	}
	return in.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) {
			return instrumentForm("/instruments/"+i.ID, "Save", records.Instrument{}), nil
		},
		Save: func(v url.Values) (string, error) { return "/instruments", in.store(c, i.ID, v) },
		Said: "Saved.",
		Show: func(status int, f web.Form) error { return in.showOne(c, status, f) },
	})
}
