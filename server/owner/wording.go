package owner

import (
	"net/url"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/server/app"
	"gaugebook/server/web"
	"gaugebook/templates/mail"
)

// Wording is the steps and the words of reminders.
type Wording struct{ *web.Kit }

// wordingPage is the owner's: the steps, the words, and whether reminders go
// out by themselves.
type wordingPage struct {
	web.Base
	Form               web.Form
	Fields, ItemFields []mail.Field
	Subject, Text      string // a sample
	Suppressions       []suppressionLine
}

type suppressionLine struct{ Email, When, How, By string }

func wordingForm(c due.ReminderSettings) web.Form {
	c = app.ShownWording(c)
	var steps []string
	for _, s := range c.Steps {
		steps = append(steps, strconv.Itoa(int(s)))
	}
	automatic := web.Select("automatic", "Each morning at eight", []string{"off", "on"}, "")
	automatic.Options[0].Label, automatic.Options[1].Label = "Nothing is sent automatically",
		"E-mails that are due are sent automatically"
	automatic.Set(map[bool]string{true: "on", false: "off"}[c.Automatic])
	text := func(name, label, v string) *web.Input {
		return &web.Input{Name: name, Label: label, Type: "textarea", Max: 4000, Value: v}
	}
	return web.Form{Action: "/reminders", Button: "Save", Inputs: []*web.Input{
		web.TextInput("steps", "Steps, in weeks from the due date",
			80).Must().Autocomplete("off").Hinted("With a minus before the due date: -8, -4, -1, 1, 4 is eight, " +
			"four and one week before, one and four weeks late.").With(strings.Join(steps, ", ")),
		automatic.Hinted("Once for each step of a duty, and never after a visit is booked or made, or the customer " +
			"asks to stop."),
		web.TextInput("ahead_subject", "Subject", 150).Autocomplete("off").With(c.AheadSubject),
		text("ahead_text", "Text", c.AheadText),
		web.TextInput("late_subject", "Subject when late", 150).Autocomplete("off").With(c.LateSubject),
		text("late_text", "Text when late", c.LateText),
	}}
}

func wordingFrom(v url.Values) (due.ReminderSettings, error) {
	c := due.ReminderSettings{Automatic: v.Get("automatic") == "on"}
	// The program's own words are not stored: a later version may improve
	// them.
	own := func(name, standard string) string {
		text := strings.TrimSpace(strings.ReplaceAll(v.Get(name), "\r\n", "\n"))
		if text == standard {
			return ""
		}
		return text
	}
	c.AheadSubject, c.AheadText = own("ahead_subject", app.DefaultWording.AheadSubject),
		own("ahead_text", app.DefaultWording.AheadText)
	c.LateSubject, c.LateText = own("late_subject", app.DefaultWording.LateSubject),
		own("late_text", app.DefaultWording.LateText)
	for _, word := range strings.FieldsFunc(v.Get("steps"), func(r rune) bool {
		return r == ',' || r == ' ' || r == ';'
	}) {
		n, err := strconv.Atoi(strings.Replace(word, "−", "-", 1))
		if err != nil {
			return c, &records.Error{Kind: records.Invalid, Field: "steps", Label: "Steps", Value: word,
				Want: "whole weeks with a comma between, such as -8, -4, -1, 1, 4"}
		}
		c.Steps = append(c.Steps, due.Step(n))
	}
	return c, app.CheckWording(c)
}

func (w Wording) Show(c echo.Context) error {
	settings, err := w.Store.Settings.Reminders(c.Request().Context())
	if err != nil {
		return err
	}
	return w.show(c, web.OK, wordingForm(settings))
}

func (w Wording) show(c echo.Context, status int, form web.Form) error {
	ctx := c.Request().Context()
	data := wordingPage{Base: w.WideBase(c, "Reminders: steps and wording"), Form: form, Fields: mail.ReminderFields,
		ItemFields: mail.ReminderItemFields}
	var err error
	if data.Subject, data.Text, err = w.App.SampleReminder(ctx); err != nil {
		return err
	}
	list, err := w.Store.Chase.Suppressions(ctx)
	for _, e := range list {
		data.Suppressions = append(data.Suppressions, suppressionLine{Email: e.Email, When: w.Day(e.At), How: e.How,
			By: e.By})
	}
	if err != nil {
		return err
	}
	return w.Page(c, status, "wording", data)
}

func (w Wording) Save(c echo.Context) error {
	return w.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return wordingForm(due.ReminderSettings{}), nil },
		Save: func(v url.Values) (string, error) {
			settings, err := wordingFrom(v)
			if err == nil {
				err = w.Store.Settings.SaveReminders(c.Request().Context(), web.ActorOf(c), settings)
			}
			return "/reminders", err
		},
		Said: "Saved. See the preview below.",
		Show: func(status int, f web.Form) error { return w.show(c, status, f) },
	})
}
