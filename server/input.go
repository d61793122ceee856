package server

import (
	"errors"
	"fmt"
	"net/url"
	"slices"

	"gaugebook/records"
)

// input is one field of a form that is not a section of a record: an address,
// a person, the firm.
type input struct {
	Name, Label, Type string // Type is that of the HTML field; "select" and "textarea" are fields of their own
	Value             string
	Hint, Error       string
	Options           []optionForm
	Required          bool
	Auto              string // autocomplete
	Max               int
}

// inputForm is such a form as shown.
type inputForm struct {
	Action, Button string
	Inputs         []*input
	Error          string // what belongs to no field
}

func line(name, label string, most int) *input {
	return &input{Name: name, Label: label, Type: "text", Max: most}
}

func dateInput(name, label string) *input {
	return &input{Name: name, Label: label, Type: "date"}
}

func pick[T ~string](name, label string, all []T, blank string) *input {
	in := &input{Name: name, Label: label, Type: "select"}
	if blank != "" {
		in.Options = append(in.Options, optionForm{Label: blank})
	}
	for _, v := range all {
		in.Options = append(in.Options, optionForm{Code: string(v), Label: upper(string(v))})
	}
	return in
}

// offer adds an option that is not there yet.
func (in *input) offer(code, label string) {
	if !slices.ContainsFunc(in.Options, func(o optionForm) bool { return o.Code == code }) {
		in.Options = append(in.Options, optionForm{Code: code, Label: label})
	}
}

func (in *input) must() *input           { in.Required = true; return in }
func (in *input) auto(s string) *input   { in.Auto = s; return in }
func (in *input) hint(s string) *input   { in.Hint = s; return in }
func (in *input) with(v string) *input   { in.set(v); return in }
func (in *input) typed(t string) *input  { in.Type = t; return in }
func (in *input) chosen(v string) *input { in.set(v); return in }

func (in *input) set(v string) {
	in.Value = v
	for i := range in.Options {
		in.Options[i].Chosen = in.Options[i].Code == v
	}
}

// refill puts what was posted back into the form.
func (f *inputForm) refill(posted url.Values) {
	for _, in := range f.Inputs {
		if in.Type == "password" {
			continue
		}
		in.set(posted.Get(in.Name))
	}
}

// refuse puts each error beside its field and the rest above the form. It
// returns an error that a form cannot show, such as one of the database.
func (f *inputForm) refuse(err error) error {
	switch records.KindOf(err) {
	case records.Invalid, records.Conflict, records.NotReady:
	default:
		return err
	}
	var many records.Errors
	var one *records.Error
	if !errors.As(err, &many) && errors.As(err, &one) {
		many = records.Errors{one}
	}
	for _, e := range many {
		if in := f.named(e.Field); in != nil {
			in.Error = e.Error()
			continue
		}
		if f.Error != "" {
			f.Error += "; "
		}
		f.Error += e.Error()
	}
	return nil
}

func (f *inputForm) named(name string) *input {
	for _, in := range f.Inputs {
		if in.Name == name {
			return in
		}
	}
	return nil
}

// dateOf reads a date of a form; blank is no date.
func dateOf(posted url.Values, name, label string) (records.Date, error) {
	text := posted.Get(name)
	if text == "" {
		return records.Date{}, nil
	}
	d, err := records.ParseDate(text)
	if err != nil {
		var e *records.Error
		if errors.As(err, &e) {
			e.Field, e.Label = name, label
			return d, e
		}
		return d, fmt.Errorf("reading %s: %w", name, err)
	}
	return d, nil
}
