package server

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/templates/mail"
)

// wordingPage is the owner's: the steps, the words, and whether reminders go
// out by themselves.
type wordingPage struct {
	base
	Form               inputForm
	Fields, ItemFields []mail.Field
	Subject, Text      string // a sample
	Suppressions       []suppressionLine
}

type suppressionLine struct{ Email, When, How, By string }

func wordingForm(c due.ReminderSettings) inputForm {
	c = shownWording(c)
	var steps []string
	for _, s := range c.Steps {
		steps = append(steps, strconv.Itoa(int(s)))
	}
	automatic := pick("automatic", "Each morning at eight", []string{"off", "on"}, "")
	automatic.Options[0].Label, automatic.Options[1].Label = "Nothing goes out by itself",
		"E-mails that are due go out by themselves"
	automatic.set(map[bool]string{true: "on", false: "off"}[c.Automatic])
	text := func(name, label, v string) *input {
		return &input{Name: name, Label: label, Type: "textarea", Max: 4000, Value: v}
	}
	return inputForm{Action: "/reminders", Button: "Save", Inputs: []*input{
		line("steps", "Steps, in weeks from the due date",
			80).must().auto("off").hint("Before it with a minus: -8, -4, -1, 1, 4 is eight, four and one week " +
			"before, one and four weeks late.").with(strings.Join(steps, ", ")),
		automatic.hint("Once for each step of a duty, and never after a visit was booked or made, or the customer " +
			"asked for no more."),
		line("ahead_subject", "Subject", 150).auto("off").with(c.AheadSubject),
		text("ahead_text", "Text", c.AheadText),
		line("late_subject", "Subject once late", 150).auto("off").with(c.LateSubject),
		text("late_text", "Text once late", c.LateText),
	}}
}

func wordingFrom(v url.Values) (due.ReminderSettings, error) {
	c := due.ReminderSettings{Automatic: v.Get("automatic") == "on"}
	// The program's own words are not stored: a later version may better
	// them.
	own := func(name, standard string) string {
		text := strings.TrimSpace(strings.ReplaceAll(v.Get(name), "\r\n", "\n"))
		if text == standard {
			return ""
		}
		return text
	}
	c.AheadSubject, c.AheadText = own("ahead_subject", defaultWording.AheadSubject),
		own("ahead_text", defaultWording.AheadText)
	c.LateSubject, c.LateText = own("late_subject", defaultWording.LateSubject),
		own("late_text", defaultWording.LateText)
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
	_, err := wordingOf(c)
	return c, err
}

func (s *Server) wording(c echo.Context) error {
	settings, err := s.store.Settings.Reminders(c.Request().Context())
	if err != nil {
		return err
	}
	return s.wordingPage(c, http.StatusOK, wordingForm(settings))
}

func (s *Server) wordingPage(c echo.Context, status int, form inputForm) error {
	ctx := c.Request().Context()
	data := wordingPage{base: s.deskBase(c, "Reminders: steps and words"), Form: form, Fields: mail.ReminderFields,
		ItemFields: mail.ReminderItemFields}
	settings, err := s.store.Settings.Reminders(ctx)
	if err != nil {
		return err
	}
	words, err := wordingOf(settings)
	if err != nil {
		return err
	}
	firm, err := s.store.Settings.Firm(ctx)
	if err != nil {
		return err
	}
	sample := mail.SampleReminders[1]
	sample.Firm, sample.Phone, sample.Email = firm.Name, firm.Phone, firm.Email
	if data.Subject, data.Text, err = words.fill(sample, false); err != nil {
		return err
	}
	data.Text += "\n\n" + mail.ReminderEnding{Link: sampleLink, Firm: firm}.Text()
	list, err := s.store.Chase.Suppressions(ctx)
	for _, e := range list {
		data.Suppressions = append(data.Suppressions, suppressionLine{Email: e.Email, When: s.day(e.At), How: e.How,
			By: e.By})
	}
	if err != nil {
		return err
	}
	return s.page(c, status, "wording", data)
}

func (s *Server) saveWording(c echo.Context) error {
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) { return wordingForm(due.ReminderSettings{}), nil },
		save: func(v url.Values) (string, error) {
			settings, err := wordingFrom(v)
			if err == nil {
				err = s.store.Settings.SaveReminders(c.Request().Context(), actorOf(c), settings)
			}
			return "/reminders", err
		},
		said: "Saved. See the preview below.",
		show: func(status int, f inputForm) error { return s.wordingPage(c, status, f) },
	})
}
