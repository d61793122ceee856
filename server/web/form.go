package web

import (
	"errors"
	"fmt"
	"net/url"
	"slices"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

// Input is one field of a form that is not a section of a record: an address,
// a person, the firm.
type Input struct {
	Name, Label, Type string // Type is that of the HTML field; "select" and "textarea" are fields of their own
	Value             string
	Hint, Error       string
	Options           []Option
	Required          bool
	Auto              string // autocomplete
	Max               int
}

// Option is one choice of a list.
type Option struct {
	Code, Label string
	Chosen      bool
}

// Form is such a form as shown.
type Form struct {
	Action, Button string
	Inputs         []*Input
	Error          string // what belongs to no field
}

// TextInput asks for a line of at most so many characters.
func TextInput(name, label string, most int) *Input {
	return &Input{Name: name, Label: label, Type: "text", Max: most}
}

// DateInput asks for a calendar date.
func DateInput(name, label string) *Input {
	return &Input{Name: name, Label: label, Type: "date"}
}

// Select offers a list of words, after the one that stands for none.
func Select[T ~string](name, label string, all []T, blank string) *Input {
	in := &Input{Name: name, Label: label, Type: "select"}
	if blank != "" {
		in.Options = append(in.Options, Option{Label: blank})
	}
	for _, v := range all {
		in.Options = append(in.Options, Option{Code: string(v), Label: records.UpperFirst(string(v))})
	}
	return in
}

// The methods that follow return the input, to be called one after another.
//
// Must marks it as one that cannot be left blank.
func (in *Input) Must() *Input { in.Required = true; return in }

// Autocomplete says what a browser may fill in.
func (in *Input) Autocomplete(s string) *Input { in.Auto = s; return in }

// Hinted adds a hint below the label.
func (in *Input) Hinted(s string) *Input { in.Hint = s; return in }

// With puts a value in.
func (in *Input) With(v string) *Input { in.Set(v); return in }

// Typed sets the type of the HTML field.
func (in *Input) Typed(t string) *Input { in.Type = t; return in }

// Offer adds an option that is not there yet.
func (in *Input) Offer(code, label string) {
	if !slices.ContainsFunc(in.Options, func(o Option) bool { return o.Code == code }) {
		in.Options = append(in.Options, Option{Code: code, Label: label})
	}
}

// Set puts a value into the input.
func (in *Input) Set(v string) {
	in.Value = v
	for i := range in.Options {
		in.Options[i].Chosen = in.Options[i].Code == v
	}
}

// Refill puts what was posted back into the form.
func (f *Form) Refill(posted url.Values) {
	for _, in := range f.Inputs {
		if in.Type == "password" {
			continue
		}
		in.Set(posted.Get(in.Name))
	}
}

// Refuse puts each error beside its field and the rest above the form. It
// returns an error that a form cannot show, such as one of the database.
func (f *Form) Refuse(err error) error {
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
		if in := f.Named(e.Field); in != nil {
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

// Named returns the input of a name, nil for none.
func (f *Form) Named(name string) *Input {
	for _, in := range f.Inputs {
		if in.Name == name {
			return in
		}
	}
	return nil
}

// DateOf reads a date of a form; blank is no date.
func DateOf(posted url.Values, name, label string) (records.Date, error) {
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

// SavedForm is one round of a form: save what was posted and go on, or show
// it again with what was not accepted.
type SavedForm struct {
	Form func() (Form, error)
	Save func(url.Values) (next string, err error)
	Said string
	Show func(status int, f Form) error
}

// SaveForm goes one round of a form.
func (k *Kit) SaveForm(c echo.Context, f SavedForm) error {
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	next, err := f.Save(posted)
	if err == nil {
		if f.Said != "" {
			k.Flash(c, f.Said)
		}
		return Redirect(c, next)
	}
	form, formErr := f.Form()
	if formErr != nil {
		return formErr
	}
	form.Refill(posted)
	if hard := form.Refuse(err); hard != nil {
		return hard
	}
	return f.Show(StatusOf(records.KindOf(err)), form)
}

// FormPage is a page that holds one form and nothing else.
type FormPage struct {
	Base
	Trail          NavItem
	Heading, Intro string
	Near           []records.PropertyEntry
	Form           Form
}
