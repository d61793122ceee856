package app

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"text/template"
	"text/template/parse"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/templates/mail"
)

// DefaultWording is what a firm begins with.
var DefaultWording = due.ReminderSettings{
	AheadSubject: mail.ReminderAhead.Subject, AheadText: mail.ReminderAhead.Text,
	LateSubject: mail.ReminderLate.Subject, LateText: mail.ReminderLate.Text,
}

// ShownWording is the wording in force, the program's own where the firm has
// none.
func ShownWording(c due.ReminderSettings) due.ReminderSettings {
	d := DefaultWording
	c.AheadSubject, c.AheadText = cmp.Or(c.AheadSubject, d.AheadSubject), cmp.Or(c.AheadText, d.AheadText)
	c.LateSubject, c.LateText = cmp.Or(c.LateSubject, d.LateSubject), cmp.Or(c.LateText, d.LateText)
	return c
}

// wording is the parsed texts.
type wording struct{ aheadSubject, aheadText, lateSubject, lateText *template.Template }

// CheckWording refuses a wording that cannot be filled in. Every error is an
// Invalid one that names its field.
func CheckWording(c due.ReminderSettings) error {
	_, err := wordingOf(c)
	return err
}

// SampleReminder returns a reminder for two duties as it would read now.
func (a *App) SampleReminder(ctx context.Context) (subject, text string, err error) {
	settings, err := a.Store.Settings.Reminders(ctx)
	if err != nil {
		return "", "", err
	}
	words, err := wordingOf(settings)
	if err != nil {
		return "", "", err
	}
	firm, err := a.Store.Settings.Firm(ctx)
	if err != nil {
		return "", "", err
	}
	sample := mail.SampleReminders[1]
	sample.Firm, sample.Phone, sample.Email = firm.Name, firm.Phone, firm.Email
	subject, text, err = words.fill(sample, false)
	return subject, text + "\n\n" + mail.ReminderEnding{Link: sampleLink, Firm: firm}.Text(), err
}

// wordingOf parses the wording and tries it on samples. Every error is an
// Invalid one that names its field.
func wordingOf(c due.ReminderSettings) (wording, error) {
	c = ShownWording(c)
	var w wording
	var errs records.Errors
	for _, f := range []struct {
		field, label, text string
		into               **template.Template
		oneLine            bool
	}{
		{field: "ahead_subject", label: "Subject", text: c.AheadSubject, into: &w.aheadSubject, oneLine: true},
		{field: "ahead_text", label: "Text", text: c.AheadText, into: &w.aheadText, oneLine: false},
		{field: "late_subject", label: "Subject when late", text: c.LateSubject, into: &w.lateSubject, oneLine: true},
		{field: "late_text", label: "Text when late", text: c.LateText, into: &w.lateText, oneLine: false},
	} {
		t, why := parseWording(f.text, f.oneLine)
		if *f.into = t; why != "" {
			errs = append(errs, &records.Error{Kind: records.Invalid, Field: f.field, Label: f.label, Msg: why})
		}
	}
	if len(errs) > 0 {
		return w, errs
	}
	return w, nil
}

// parseWording returns the template, or says what is wrong with it.
func parseWording(text string, oneLine bool) (*template.Template, string) {
	t, err := template.New("wording").Parse(text)
	if err != nil {
		return nil, "the curly brackets do not match: " + plainTemplateError(err)
	}
	if len(t.Templates()) > 1 {
		return nil, "{{define}} and {{block}} are not used here"
	}
	if why := checkNode(t.Root, false); why != "" {
		return nil, why
	}
	for _, sample := range mail.SampleReminders {
		out, err := fillWording(t, sample)
		switch {
		case err != nil:
			return nil, "it cannot be filled in: " + plainTemplateError(err)
		case strings.TrimSpace(out) == "":
			return nil, "it comes out blank"
		case oneLine && (strings.ContainsAny(out, "\r\n") || len([]rune(out)) > 200):
			return nil, "a subject is one line of at most 200 characters; this one comes out as: " +
				records.Shorten(out, 100)
		}
	}
	return t, ""
}

func plainTemplateError(err error) string {
	return strings.TrimPrefix(err.Error(), "template: wording:")
}

// checkNode walks a template and refuses what is not documented: fields that
// do not exist, calls, other templates.
func checkNode(n parse.Node, inItem bool) string {
	switch n := n.(type) {
	case *parse.ListNode:
		if n == nil {
			return ""
		}
		for _, m := range n.Nodes {
			if why := checkNode(m, inItem); why != "" {
				return why
			}
		}
	case *parse.ActionNode:
		return checkNode(n.Pipe, inItem)
	case *parse.PipeNode:
		return checkPipe(n, inItem)
	case *parse.FieldNode:
		return checkField(n, inItem)
	case *parse.IfNode:
		return firstOf(checkNode(n.Pipe, inItem), checkNode(n.List, inItem), checkNode(n.ElseList, inItem))
	case *parse.RangeNode:
		if n.Pipe.String() != ".Items" || inItem {
			return "{{range}} goes over .Items only"
		}
		return firstOf(checkNode(n.List, true), checkNode(n.ElseList, false))
	case *parse.TextNode, *parse.CommentNode, *parse.StringNode, *parse.NumberNode:
	default:
		return fmt.Sprintf("%s is not used here; fields, {{if}} and {{range .Items}} are", n)
	}
	return ""
}

func checkPipe(n *parse.PipeNode, inItem bool) string {
	if n == nil {
		return ""
	}
	if len(n.Decl) > 0 {
		return "variables such as " + n.Decl[0].String() + " are not used here"
	}
	for _, cmd := range n.Cmds {
		for i, arg := range cmd.Args {
			if id, ok := arg.(*parse.IdentifierNode); ok && i == 0 &&
				slices.Contains([]string{"eq", "ne", "gt", "lt", "and", "or", "not"}, id.Ident) {
				continue
			}
			if why := checkNode(arg, inItem); why != "" {
				return why
			}
		}
	}
	return ""
}

func checkField(n *parse.FieldNode, inItem bool) string {
	known := mail.ReminderFields
	if inItem {
		known = mail.ReminderItemFields
	}
	var names []string
	for _, f := range known {
		names = append(names, f.Name)
	}
	if len(n.Ident) == 1 && slices.Contains(names, "."+n.Ident[0]) {
		return ""
	}
	where := ""
	if inItem {
		where = " between {{range .Items}} and {{end}}"
	}
	return fmt.Sprintf("there is no field %s%s; there are %s", n, where, strings.Join(names, ", "))
}

func firstOf(whys ...string) string { return cmp.Or(whys...) }

func fillWording(t *template.Template, d mail.Reminder) (string, error) {
	var b bytes.Buffer
	err := t.Execute(&b, d)
	return strings.TrimSpace(b.String()), err
}

// fill writes subject and text: those for late duties if one is late.
func (w wording) fill(d mail.Reminder, late bool) (subject, text string, err error) {
	s, t := w.aheadSubject, w.aheadText
	if late {
		s, t = w.lateSubject, w.lateText
	}
	if subject, err = fillWording(s, d); err != nil {
		return "", "", err
	}
	// A customer's long name must not make a subject that cannot be sent.
	subject = records.Shorten(strings.Join(strings.Fields(subject), " "), 200)
	text, err = fillWording(t, d)
	return subject, text, err
}

func reminderDataOf(firm records.Firm, c CustomerDue, today records.Date) (d mail.Reminder, late bool) {
	d = mail.Reminder{Name: cmp.Or(c.Contact.Name, "customer"), Count: len(c.Rows), Firm: firm.Name, Phone: firm.Phone,
		Email: firm.Email}
	first := c.Rows[0].Due
	for _, r := range c.Rows {
		when := "falls due on "
		if r.Due.Before(today) {
			when, late = "was due on ", true
		}
		if r.Due.Before(first) {
			first = r.Due
		}
		d.Items = append(d.Items, mail.ReminderItem{What: string(r.Kind), Appliance: r.Appliance,
			Address: r.Property.OneLine(), When: when + r.Due.Long(),
			Due: r.Due.Long()})
	}
	d.What, d.Due = string(c.Rows[0].Kind), first.Long()
	if len(c.Rows) > 1 {
		d.What = records.FormatNumber(float64(len(c.Rows)), 0) + " services or checks"
	}
	return d, late
}
