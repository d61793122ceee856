package engineer

import (
	"errors"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
	"gaugebook/templates"
)

// Review is what stands between a draft and its issue.
type Review struct{ *web.Kit }

// reviewPage is what stands between a draft and its issue.
type reviewPage struct {
	web.Base
	Record            *records.Record
	Scale             scale
	Refusals          []string // why a try to issue was refused
	Rejected          []pointedEntry
	Lists             []findingList
	Condition         []conditionForm
	ConditionError    string
	Told, ToldHow     string
	LeftOff           bool
	PermissionRefused bool
	By, At            string   // who refused it, and when
	Blockers          []string // why it cannot be issued as it stands
	Holder            string   // whose readings these are
	Before            string   // who had the draft before them
	Theirs            bool     // of somebody else: to be taken over
}

// pointedEntry is an entry that was not accepted. One that no field of today
// has can only be left out, by its Key.
type pointedEntry struct{ Href, Label, Message, Entry, Key string }

type findingList struct {
	Title, Intro string
	Findings     []pointedFinding
}

type pointedFinding struct {
	Finding records.Finding
	Href    string
}

type conditionForm struct {
	Rule, Title, Reason, Found, Done string
	Why                              string // why it is less grave, or close and still kept
	Outcome                          records.Outcome
	Open                             bool // a missing one is read, rather than answered
	Suggested                        records.Class
	Classes, Causes, With            []web.Option
}

// reviewGroups are the outcomes that need a person, gravest first.
var reviewGroups = []struct {
	outcome      records.Outcome
	title, intro string
}{
	{records.Outside, "Outside its limit", "Put it right and read again, or answer it in the condition report."},
	{records.Doubtful, "Doubtful",
		"These contradict other readings or physics. Take them again before you rely on them."},
	{records.Close, "Too close to call", "The reading is nearer to its limit than it is sure. Read it again as the " +
		"working says, or give your reason."},
	{records.Missing, "Missing", "Not read, or no limit to check it against."},
	{records.Attention, "Needs attention", "The customer is told so in the record. No answer is needed."},
}

func (re Review) Show(c echo.Context) error {
	r, err := draftOf(re.Kit, c)
	if err != nil {
		return err
	}
	return re.show(c, web.OK, r, reviewErrors{})
}

// reviewErrors is what a refused form of the page shows again.
type reviewErrors struct {
	issue, condition error
}

func (re Review) show(c echo.Context, status int, r *records.Record, no reviewErrors) error {
	data := reviewPage{Base: re.Base(c, "Review, "+r.Values.ApplianceName()), Record: r, Scale: scaleOf(r),
		Refusals: sentences(no.issue)}
	for _, key := range r.RejectedKeys() {
		no := r.Rejected[key]
		entry := pointedEntry{Label: no.Entry, Message: no.Message, Entry: no.Entry, Key: key}
		if f := records.FieldByKey(key); f != nil {
			entry = pointedEntry{Href: fieldPath(r.ID, key), Message: no.Message,
				Label: records.SectionByID(f.Section()).Title + ": " + f.Label}
		}
		data.Rejected = append(data.Rejected, entry)
	}
	for _, g := range reviewGroups {
		list := findingList{Title: g.title, Intro: g.intro}
		for _, f := range r.Findings {
			if f.Outcome == g.outcome {
				list.Findings = append(list.Findings, pointedFinding{f, findingPath(r, f)})
			}
		}
		if list.Findings != nil {
			data.Lists = append(data.Lists, list)
		}
	}
	data.Condition = conditionForms(r)
	if k := r.Condition; k != nil {
		data.Told, data.ToldHow, data.LeftOff, data.PermissionRefused = k.Told, k.ToldHow, k.LeftOff, k.Refused
		data.By, data.At = k.RefusedBy, k.RefusedAt
	}
	if no.condition != nil {
		data.ConditionError = no.condition.Error()
	}
	if err := re.holder(c, r, &data); err != nil {
		return err
	}
	data.Blockers = sentences(records.ReadyToIssue(r.Findings, r.Condition))
	if len(data.Rejected) > 0 {
		data.Blockers = append(data.Blockers, "Correct or clear the entries that were not accepted")
	}
	return re.Page(c, status, "review", data)
}

// holder says whose readings these are, and whether the reader may declare them.
func (re Review) holder(c echo.Context, r *records.Record, data *reviewPage) error {
	data.Holder, data.Theirs = r.Engineer.Name, r.HolderID != web.Person(c).ID
	p, err := re.Store.People.ByID(c.Request().Context(), r.HolderID)
	if err == nil {
		data.Holder = p.Name
	} else if records.KindOf(err) != records.NotFound {
		return err
	}
	var names []string
	for _, before := range r.TakenOverFrom {
		names = append(names, before.Name)
	}
	data.Before = strings.Join(names, ", then ")
	return nil
}

// TakeOver makes the draft the reader's.
func (re Review) TakeOver(c echo.Context) error {
	r, _, revision, err := draftForm(re.Kit, c)
	if err != nil {
		return err
	}
	_, err = re.App.TakeOver(c.Request().Context(), web.Person(c), r.ID, revision)
	switch records.KindOf(err) {
	case records.Conflict, records.Invalid, records.Forbidden:
		return re.show(c, web.StatusOf(records.KindOf(err)), r, reviewErrors{issue: err})
	}
	if err != nil {
		return err
	}
	re.Flash(c, "The record is yours now. The declaration is cleared: check every reading, then declare them under "+
		"Handover.")
	return web.Redirect(c, "/records/"+r.ID+"/review")
}

// answerable are the findings that the condition report answers, in the order
// of the page.
func answerable(r *records.Record) []records.Finding {
	var out []records.Finding
	for _, g := range reviewGroups {
		for _, f := range r.Findings {
			if f.Outcome == g.outcome && f.Outcome != records.Attention {
				out = append(out, f)
			}
		}
	}
	return out
}

func conditionForms(r *records.Record) []conditionForm {
	var out []conditionForm
	open := answerable(r)
	for _, f := range open {
		e, ok := r.Condition.Entry(f.Rule)
		form := conditionForm{Rule: f.Rule, Title: f.Title, Reason: f.Reason, Outcome: f.Outcome,
			Suggested: f.Suggested,
			Open:      f.Outcome != records.Missing || ok}
		for _, other := range open {
			if other.Rule != f.Rule {
				form.With = append(form.With, web.Option{Code: other.Rule, Label: other.Title,
					Chosen: ok && e.Rule == other.Rule})
			}
		}
		if e.Rule != f.Rule {
			e = records.ConditionEntry{}
		}
		form.Found, form.Done, form.Why = e.Found, e.Done, e.Reason
		for _, class := range records.Classes {
			form.Classes = append(form.Classes, web.Option{Code: string(class),
				Label: records.UpperFirst(string(class)), Chosen: class == e.Class})
		}
		for _, cause := range records.Causes {
			form.Causes = append(form.Causes, web.Option{Code: string(cause),
				Label: records.UpperFirst(string(cause)), Chosen: cause == e.Cause})
		}
		out = append(out, form)
	}
	return out
}

// sentences splits several errors into one line each.
func sentences(err error) []string {
	var many records.Errors
	switch {
	case err == nil:
		return nil
	case errors.As(err, &many):
		var out []string
		for _, e := range many {
			out = append(out, e.Error())
		}
		return out
	}
	return []string{err.Error()}
}

func fieldPath(id, key string) string {
	f := records.FieldByKey(key)
	if f == nil {
		return "/records/" + id
	}
	return "/records/" + id + "/sections/" + string(f.Section()) + "#at-" + templates.Slug(key)
}

// findingPath leads to the reading that a finding is about: the one that it
// stands beside in the form.
func findingPath(r *records.Record, f records.Finding) string {
	s := records.SectionByID(f.Section)
	if s == nil {
		return "/records/" + r.ID
	}
	if place := placeOf(s, f, r); place != nil {
		return fieldPath(r.ID, place.Key)
	}
	for _, key := range f.Fields {
		if records.FieldByKey(key) != nil {
			return fieldPath(r.ID, key)
		}
	}
	return "/records/" + r.ID + "/sections/" + string(f.Section)
}

// conditionOf reads the report for the findings that need one. Answers to
// others are left out: they have been settled meanwhile.
func conditionOf(r *records.Record, v url.Values) records.ConditionReport {
	report := records.ConditionReport{Told: v.Get("told"), ToldHow: v.Get("told_how"),
		LeftOff: v.Get("left_off") == "yes", Refused: v.Get("permission") == "refused",
		RefusedBy: v.Get("refused_by"), RefusedAt: v.Get("refused_at")}
	with := map[string][]string{}
	for _, f := range answerable(r) {
		if other := v.Get("with:" + f.Rule); other != "" && v.Get("with:"+other) == "" {
			with[other] = append(with[other], f.Rule)
			continue
		}
		e := records.ConditionEntry{Rule: f.Rule, Class: records.Class(v.Get("class:" + f.Rule)),
			Found: v.Get("found:" + f.Rule), Done: v.Get("done:" + f.Rule), Reason: v.Get("why:" + f.Rule),
			Cause: records.Cause(v.Get("cause:" + f.Rule))}
		if e.Class != "" || e.Found != "" || e.Done != "" || e.Reason != "" || e.Cause != "" {
			report.Entries = append(report.Entries, e)
		}
	}
	for i := range report.Entries {
		report.Entries[i].Also = with[report.Entries[i].Rule]
	}
	return report
}

func (re Review) SaveCondition(c echo.Context) error {
	r, posted, revision, err := draftForm(re.Kit, c)
	if err != nil {
		return err
	}
	report := conditionOf(r, posted)
	if _, err = re.App.SaveCondition(c.Request().Context(), web.Person(c), r.ID, revision, report); err == nil {
		re.Flash(c, "The condition report is saved with the draft.")
		return web.Redirect(c, "/records/"+r.ID+"/review#condition")
	}
	switch records.KindOf(err) {
	case records.Invalid, records.Conflict:
		// What was typed is shown again, on the draft as it now stands.
		r.Condition = &report
		return re.show(c, web.StatusOf(records.KindOf(err)), r, reviewErrors{condition: err})
	}
	return err
}

// LeaveOut drops an entry that no field of today has.
func (re Review) LeaveOut(c echo.Context) error {
	draft, posted, revision, err := draftForm(re.Kit, c)
	if err != nil {
		return err
	}
	if _, err := re.App.LeaveOut(c.Request().Context(), web.Person(c), draft.ID, revision,
		posted.Get("key")); err != nil {
		return err
	}
	re.Flash(c, "Left out.")
	return web.Redirect(c, "/records/"+draft.ID+"/review")
}

func (re Review) Issue(c echo.Context) error {
	r, _, revision, err := draftForm(re.Kit, c)
	if err != nil {
		return err
	}
	row, err := re.App.Issue(c.Request().Context(), web.Person(c), r.ID, revision)
	switch records.KindOf(err) {
	case records.NotReady, records.Conflict, records.Invalid, records.Forbidden:
		return re.show(c, web.StatusOf(records.KindOf(err)), r, reviewErrors{issue: err})
	}
	if err != nil {
		return err
	}
	re.Flash(c, "Issued as "+row.Number+".")
	return web.Redirect(c, "/records/"+r.ID)
}
