package engineer

import (
	"net/url"
	"strconv"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// Records is the pages of a record, draft or issued.
type Records struct{ *web.Kit }

// scale is how far a record has come, as drawn: Filled of Shown fields, the
// level in the tube, and a tick at the end of each section.
type scale struct {
	Filled, Shown int
	At            int
	Ticks         []int
	Standing      records.Standing
}

// The tube is drawn from scaleLeft over scaleWidth units.
const scaleLeft, scaleWidth = 4, 392

func scaleOf(r *records.Record) scale {
	sc := scale{Standing: records.StandingOf(r.Findings)}
	var ends []int
	for _, s := range records.Sections {
		if s.ExemptReason(r.Values) == "" {
			filled, shown := r.Progress(s)
			sc.Filled += filled
			sc.Shown += shown
			ends = append(ends, sc.Shown)
		}
	}
	at := func(n int) int { return scaleLeft + scaleWidth*n/max(sc.Shown, 1) }
	sc.At = at(sc.Filled)
	sc.Ticks = append(sc.Ticks, scaleLeft)
	for _, end := range ends {
		sc.Ticks = append(sc.Ticks, at(end))
	}
	return sc
}

// tally is how many findings have each outcome.
type tally struct{ Inside, Outside, Missing, Doubtful, Exempt, Close, Attention int }

func tallyOf(fs []records.Finding, section records.SectionID) tally {
	var t tally
	for _, f := range fs {
		if section != "" && f.Section != section {
			continue
		}
		switch f.Outcome {
		case records.Inside:
			t.Inside++
		case records.Outside:
			t.Outside++
		case records.Missing:
			t.Missing++
		case records.Doubtful:
			t.Doubtful++
		case records.Exempt:
			t.Exempt++
		case records.Close:
			t.Close++
		case records.Attention:
			t.Attention++
		}
	}
	return t
}

type draftPage struct {
	web.Base
	Record    *records.Record
	Scale     scale
	Sections  []draftSection
	DateError string
	Kept      []keptVersion
}

type draftSection struct {
	Section                 *records.Section
	Exempt                  string
	Filled, Shown, Rejected int
	Tally                   tally
}

// Show shows a draft's overview, or an issued record. The number of an
// issued record leads there too.
func (re Records) Show(c echo.Context) error {
	ctx := c.Request().Context()
	r, err := re.Store.Records.Record(ctx, c.Param("id"))
	if err != nil {
		if row, byNumber := re.Store.Records.Issued(ctx, c.Param("id")); byNumber == nil {
			return web.Redirect(c, "/records/"+row.ID)
		}
		return err
	}
	if r.Stage != records.Draft {
		return re.showIssued(c, web.OK, r, issuedErrors{})
	}
	return re.showDraft(c, web.OK, r, "")
}

func (re Records) showDraft(c echo.Context, status int, r *records.Record, dateError string) error {
	data := draftPage{Base: re.Base(c, "Draft, "+r.Values.ApplianceName()), Record: r, Scale: scaleOf(r),
		DateError: dateError}
	var err error
	if data.Kept, err = re.keptVersions(c, r); err != nil {
		return err
	}
	for _, sec := range records.Sections {
		line := draftSection{Section: sec, Exempt: sec.ExemptReason(r.Values), Tally: tallyOf(r.Findings, sec.ID)}
		line.Filled, line.Shown = r.Progress(sec)
		for _, f := range sec.Fields() {
			if _, ok := r.Rejected[f.Key]; ok {
				line.Rejected++
			}
		}
		data.Sections = append(data.Sections, line)
	}
	return re.Page(c, status, "draft", data)
}

// draftOf returns a record that is still a draft. Kinds: NotFound, Conflict.
func draftOf(k *web.Kit, c echo.Context) (*records.Record, error) {
	r, err := k.Store.Records.Record(c.Request().Context(), c.Param("id"))
	if err != nil {
		return nil, err
	}
	if r.Stage != records.Draft {
		return nil, records.Fail(records.Conflict, "this record has been issued and cannot change; amend it instead")
	}
	return r, nil
}

// revisionOf reads the revision that a form was made from.
func revisionOf(posted url.Values) (int, error) {
	n, err := strconv.Atoi(posted.Get("revision"))
	if err != nil || n < 1 {
		return 0, &records.Error{Kind: records.Invalid, Field: "revision", Label: "Revision",
			Msg: "missing or not a number", Want: "the revision that the form came with"}
	}
	return n, nil
}

// draftForm reads what was posted for a draft, and the revision it was made
// from.
func draftForm(k *web.Kit, c echo.Context) (r *records.Record, posted url.Values, revision int, err error) {
	if r, err = draftOf(k, c); err != nil {
		return nil, nil, 0, err
	}
	if posted, err = c.FormParams(); err != nil {
		return nil, nil, 0, err
	}
	revision, err = revisionOf(posted)
	return r, posted, revision, err
}

func (re Records) SaveDate(c echo.Context) error {
	r, posted, revision, err := draftForm(re.Kit, c)
	if err != nil {
		return err
	}
	date, err := web.DateOf(posted, "work_date", "Date of the work")
	if err == nil {
		_, err = re.App.SaveWorkDate(c.Request().Context(), web.Person(c), r.ID, revision, date)
	}
	if records.KindOf(err) == records.Invalid {
		return re.showDraft(c, web.Refused, r, err.Error())
	}
	if err != nil {
		return err
	}
	re.Flash(c, "The date of the work is now "+date.Long()+".")
	return web.Redirect(c, "/records/"+r.ID)
}

func (re Records) Discard(c echo.Context) error {
	r, err := draftOf(re.Kit, c)
	if err != nil {
		return err
	}
	if c.FormValue("sure") != "yes" {
		return &records.Error{Kind: records.Invalid, Field: "sure", Label: "Discard",
			Want: "the tick that says you want to discard this draft"}
	}
	err = re.Store.Records.DiscardDraft(c.Request().Context(), web.ActorOf(c), r.ID,
		"discarded by "+web.Person(c).Name)
	return re.Done(c, err, "The draft has been discarded. A copy is kept with the audit log.",
		"/appliances/"+r.ApplianceID)
}

func (ap Appliances) Start(c echo.Context) error {
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	date, err := web.DateOf(posted, "work_date", "Date of the work")
	var r *records.Record
	if err == nil {
		r, err = ap.App.Start(c.Request().Context(), web.Person(c), c.Param("id"),
			records.Purpose(posted.Get("purpose")),
			date)
	}
	if records.KindOf(err) == records.Invalid && err != nil {
		return ap.show(c, web.Refused, applianceForms{posted: posted, start: err})
	}
	if err != nil {
		return err
	}
	return web.Redirect(c, "/records/"+r.ID)
}
