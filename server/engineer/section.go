package engineer

import (
	"errors"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

// Sections is the pages on which a draft is filled in.
type Sections struct {
	*web.Kit
	decoding chan struct{} // holds one for each photo that is being decoded
}

// NewSections returns those pages.
func NewSections(k *web.Kit) Sections {
	return Sections{Kit: k, decoding: make(chan struct{}, photosAtOnce)}
}

type sectionPage struct {
	web.Base
	Record         *records.Record
	Form           sectionForm
	Scale          scale
	Previous, Next *records.Section
	Refused        int
	Saved          string
	Photos         photoStrip
}

func sectionOf(c echo.Context) (*records.Section, error) {
	if s := records.SectionByID(records.SectionID(c.Param("section"))); s != nil {
		return s, nil
	}
	return nil, records.Fail(records.NotFound, "there is no such section")
}

func (s Sections) Show(c echo.Context) error {
	sec, err := sectionOf(c)
	if err != nil {
		return err
	}
	r, err := draftOf(s.Kit, c)
	if err != nil {
		return err
	}
	return s.show(c, web.OK, sec, r)
}

// show shows a section's form; a request of script gets the form
// alone, to take the fresh findings from.
func (s Sections) show(c echo.Context, status int, sec *records.Section, r *records.Record) error {
	data, err := s.data(c, sec, r)
	if err != nil {
		return err
	}
	if c.Request().Header.Get(web.PartHeader) != "" {
		return s.Part(c, status, "section", "section-form", data)
	}
	return s.Page(c, status, "section", data)
}

func (s Sections) data(c echo.Context, sec *records.Section, r *records.Record) (sectionPage, error) {
	instruments, err := s.Store.Settings.Instruments(c.Request().Context())
	if err != nil {
		return sectionPage{}, err
	}
	data := sectionPage{
		Base: s.Base(c, sec.Title+", "+r.Values.ApplianceName()), Record: r, Form: formOf(sec, r, instruments),
		Scale: scaleOf(r),
		Saved: s.Clock(r.UpdatedAt), Photos: stripOf(sec, r),
	}
	data.Previous, data.Next = neighbours(sec)
	for _, f := range sec.Fields() {
		if _, ok := r.Rejected[f.Key]; ok {
			data.Refused++
		}
	}
	return data, nil
}

func neighbours(s *records.Section) (before, after *records.Section) {
	for i, t := range records.Sections {
		if t.ID != s.ID {
			continue
		}
		if i > 0 {
			before = records.Sections[i-1]
		}
		if i+1 < len(records.Sections) {
			after = records.Sections[i+1]
		}
	}
	return before, after
}

// Save saves what was filled in. Entries that are not accepted come
// back in their fields with the reason, after all others have been saved.
func (s Sections) Save(c echo.Context) error {
	sec, err := sectionOf(c)
	if err != nil {
		return err
	}
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	return s.saveEntries(c, sec, posted)
}

func (s Sections) saveEntries(c echo.Context, sec *records.Section, posted url.Values) error {
	revision, err := revisionOf(posted)
	if err != nil {
		return err
	}
	entries := entriesOf(sec, posted)
	r, err := s.App.SaveSection(c.Request().Context(), web.Person(c), c.Param("id"), revision, sec.ID, entries)
	var stale *store.StaleError
	if errors.As(err, &stale) && stale.Current.Stage == records.Draft {
		return s.showStale(c, sec, stale.Current, entries)
	}
	if err != nil {
		return err
	}
	if refused(sec, r) {
		return s.show(c, web.Refused, sec, asPosted(r, entries))
	}
	if c.Request().Header.Get(web.PartHeader) != "" {
		return s.show(c, web.OK, sec, r)
	}
	return web.Redirect(c, afterSection(r.ID, sec, posted))
}

func refused(sec *records.Section, r *records.Record) bool {
	for _, f := range sec.Fields() {
		if _, ok := r.Rejected[f.Key]; ok {
			return true
		}
	}
	return false
}

// asPosted puts refused entries back in full: what is stored of them may have
// been shortened.
func asPosted(r *records.Record, in app.Entries) *records.Record {
	shown := *r
	shown.Rejected = map[string]records.Rejection{}
	for key, no := range r.Rejected {
		if entry, ok := in.Fields[key]; ok {
			no.Entry = entry
		} else if rows, ok := in.Rows[key]; ok {
			no.Entry = records.EntryOfRows(rows)
		}
		shown.Rejected[key] = no
	}
	return &shown
}

// afterSection is where the pressed button leads: another section, the
// review, or the same section again.
func afterSection(id string, sec *records.Section, posted url.Values) string {
	to := records.SectionID(posted.Get("go"))
	switch {
	case to == "review":
		return "/records/" + id + "/review"
	case records.SectionByID(to) == nil:
		to = sec.ID
	}
	return "/records/" + id + "/sections/" + string(to)
}
