package server

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

type instrumentsPage struct {
	base
	Instruments []instrumentLine
	MayEdit     bool
	Form        inputForm
}

type instrumentLine struct {
	ID, Name, Kind, Serial, On, Due string
	State                           records.DutyState
}

func instrumentForm(action, button string, i records.Instrument) inputForm {
	return inputForm{Action: action, Button: button, Inputs: []*input{
		pick("kind", "Kind", records.InstrumentKinds, "Choose").must().chosen(i.Kind),
		line("make", "Make", 60).with(i.Make), line("model", "Model", 60).with(i.Model),
		line("serial", "Serial number", 40).must().with(i.Serial),
		dateInput("calibrated_on", "Calibrated on").with(i.CalibratedOn.String()),
		dateInput("calibration_due", "Calibration due").with(i.CalibrationDue.String()),
	}}
}

func instrumentOf(v url.Values) (records.Instrument, error) {
	i := records.Instrument{Kind: v.Get("kind"), Make: v.Get("make"), Model: v.Get("model"), Serial: v.Get("serial")}
	var err error
	if i.CalibratedOn, err = dateOf(v, "calibrated_on", "Calibrated on"); err != nil {
		return i, err
	}
	i.CalibrationDue, err = dateOf(v, "calibration_due", "Calibration due")
	return i, err
}

func (s *Server) instrumentsPage(c echo.Context, status int, form inputForm) error {
	all, err := s.store.Settings.Instruments(c.Request().Context())
	if err != nil {
		return err
	}
	data := instrumentsPage{base: s.deskBase(c, "Instruments"), MayEdit: desk.allows(person(c).Role), Form: form}
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
	return s.page(c, status, "instruments", data)
}

func newInstrumentForm() inputForm {
	return instrumentForm("/instruments", "Add", records.Instrument{})
}

func (s *Server) instruments(c echo.Context) error {
	return s.instrumentsPage(c, http.StatusOK, newInstrumentForm())
}

func (s *Server) addInstrument(c echo.Context) error {
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) { return newInstrumentForm(), nil },
		save: func(v url.Values) (string, error) { return "/instruments", s.storeInstrument(c, "", v) },
		said: "Added.",
		show: func(status int, f inputForm) error { return s.instrumentsPage(c, status, f) },
	})
}

func (s *Server) storeInstrument(c echo.Context, id string, v url.Values) error {
	i, err := instrumentOf(v)
	if err != nil {
		return err
	}
	i.ID = id
	_, err = s.store.Settings.SaveInstrument(c.Request().Context(), actorOf(c), i)
	return err
}

func (s *Server) instrumentPage(c echo.Context, status int, form inputForm) error {
	return s.page(c, status, "form", formPage{base: s.base(c, "Instrument"),
		Trail:   navItem{Href: "/instruments", Text: "Instruments"},
		Heading: "Change an instrument", Intro: "Issued records keep the instrument as it was on the day.", Form: form})
}

func (s *Server) instrument(c echo.Context) (records.Instrument, error) {
	all, err := s.store.Settings.Instruments(c.Request().Context())
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

func (s *Server) editInstrument(c echo.Context) error {
	i, err := s.instrument(c)
	if err != nil {
		return err
	}
	return s.instrumentPage(c, http.StatusOK, instrumentForm("/instruments/"+i.ID, "Save", i))
}

func (s *Server) saveInstrument(c echo.Context) error {
	i, err := s.instrument(c)
	if err != nil {
		return err
	}
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) {
			return instrumentForm("/instruments/"+i.ID, "Save", records.Instrument{}), nil
		},
		save: func(v url.Values) (string, error) { return "/instruments", s.storeInstrument(c, i.ID, v) },
		said: "Saved.",
		show: func(status int, f inputForm) error { return s.instrumentPage(c, status, f) },
	})
}
