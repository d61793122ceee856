package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"hash/fnv"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"net/http"
	"strings"
	"testing"
)

// makeVisits makes the visits and issues their records, amends one and
// withdraws another.
func (m *maker) makeVisits() {
	for i, v := range m.plan.Visits {
		if v.WorkDate == "today" {
			v.WorkDate = m.day
			m.book(v.Appliance, v.Engineer, m.day, "Key with the neighbour at number 6.")
		}
		if i == 1 { // the first record is printed without
			_, data := picture(m.t, "logo", true)
			m.as("owner").upload("/firm/logo", nil, "file", "logo.png", data).was(http.StatusOK)
		}
		if i == 4 { // so many are sealed with the first key
			m.changeKey()
		}
		api, begun := m.keys[v.Engineer], cmp.Or(v.Begun, v.Engineer)
		r := m.draft(v.Appliance, v.Purpose, v.WorkDate, begun)
		r = m.keys[begun].change(r, m.sections(v.Sections, begun))
		if v.Begun != "" {
			r = m.takeOver(r, v.Engineer)
		}
		for _, ph := range v.Photos {
			m.photograph(r.ID, v.Engineer, ph)
			m.shows("record", r.ID, "office", ph.Caption)
		}
		if r = api.answered(r, v.Report); r.Standing != v.Standing {
			m.t.Errorf("%s is %s, not %s:\n%s", v.Name, r.Standing, v.Standing, r.told())
			continue
		}
		m.records[v.Name] = api.issue(r)
	}
	if m.t.Failed() {
		m.t.FailNow()
	}
	was, api := m.records["combination, second service"], m.keys["junia"]
	r := m.amend(was.ID, "junia", "Serial number misread: the last two figures were changed over.")
	r = api.change(r, json.RawMessage(`{"appliance": {"serial": "ET27-2408-00417"},
		"electrical": {"extra_measure": "smart"}}`))
	r = api.change(r, m.declared("junia"))
	m.records["combination, amended"] = api.issue(r)
	m.shows("record", was.ID, "office", m.records["combination, amended"].Number)
	m.shows("appliance", m.appliances["combination"], "office", "ET27-2408-00417")

	gone, why := m.records["system, first fired"].ID, "Issued against the wrong cylinder bank."
	m.as("office").enter("/records/"+gone, "/withdraw", fields{"why": why})
	m.shows("record", gone, "office", why)
}

// draft starts a draft.
func (m *maker) draft(appliance, purpose, day, engineer string) (r gotRecord) {
	m.t.Helper()
	in := map[string]string{"appliance_id": m.appliances[appliance], "purpose": purpose, "work_date": day}
	m.keys[engineer].call(http.MethodPost, "/records", in, &r, http.StatusCreated)
	return r
}

// amend starts the amendment of a record.
func (m *maker) amend(id, engineer, why string) gotRecord {
	m.t.Helper()
	p := m.as(engineer).enter("/records/"+id, "/amend", fields{"why": why})
	return m.keys[engineer].record(strings.TrimPrefix(p.path, "/records/"))
}

// takeOver makes somebody else's draft an engineer's, who declares it anew.
func (m *maker) takeOver(r gotRecord, engineer string) gotRecord {
	m.t.Helper()
	m.as(engineer).get("/records/" + r.ID + "/review").form("/records/" + r.ID + "/take-over").press().
		was(http.StatusOK)
	api := m.keys[engineer]
	return api.change(api.record(r.ID), m.declared(engineer))
}

// declared is what an engineer declares under Handover, once more when the
// record was another's or is an amendment.
func (m *maker) declared(engineer string) map[string]entries {
	m.t.Helper()
	return m.sections(map[string][]json.RawMessage{"handover": {json.RawMessage(`{"declared": true}`)}}, engineer)
}

func (m *maker) photograph(id, engineer string, ph plannedPhoto) {
	m.t.Helper()
	name, data := picture(m.t, id+ph.Caption, ph.PNG)
	path := "/records/" + id + "/sections/" + ph.Section + "/photos"
	m.as(engineer).upload(path, fields{"caption": ph.Caption}, "photo", name, data).was(http.StatusOK).says(ph.Caption)
}

// undecided is what a half written condition report says.
const undecided = "Cupboard still locked, key promised for Friday."

// leaveDrafts leaves drafts in every state.
func (m *maker) leaveDrafts() {
	for _, d := range m.plan.Drafts {
		var r gotRecord
		var rest map[string]entries
		if d.Amends != "" {
			r = m.amend(m.records[d.Amends].ID, d.Engineer, "Name of the tenant left out.")
			rest = m.declared(d.Engineer)
		} else {
			r = m.draft(d.Appliance, d.Purpose, m.day, d.Engineer)
			rest = m.sections(m.plan.like(d), d.Engineer)
			first := map[string]entries{}
			for _, id := range d.First {
				first[id] = rest[id]
				delete(rest, id)
			}
			r = m.keys[d.Engineer].change(r, first)
		}
		if d.Undecided {
			found := map[string]string{"rule": r.unsettled()[0].Rule, "class": "", "found": undecided, "done": ""}
			report := map[string]any{"entries": []any{found}, "told": "", "told_how": "", "left_off": false,
				"refused": false}
			in := map[string]any{"revision": r.Revision, "condition": report}
			m.keys[d.Engineer].call(http.MethodPatch, "/records/"+r.ID, in, nil, http.StatusOK)
			m.shows("review", r.ID, "engineer", undecided)
		}
		for _, ph := range d.Photos {
			m.photograph(r.ID, d.Engineer, ph)
			m.shows("section", r.ID+" "+ph.Section, "engineer", ph.Caption)
		}
		m.spoil(d, "/records/"+r.ID)
		if d.Discarded {
			continue
		}
		kept := keptDraft{ID: r.ID, Name: d.Name, Engineer: m.person(d.Engineer).Email, Purpose: d.Purpose,
			Refused: d.Refused, Photos: len(d.Photos)}
		if len(rest) > 0 {
			var err error
			if kept.Finish, err = json.Marshal(rest); err != nil {
				m.t.Fatal(err)
			}
		}
		m.want.Drafts = append(m.want.Drafts, kept)
	}
}

// spoil does to a draft what the plan says: a section is saved from two tabs,
// entries are refused, all of it is discarded.
func (m *maker) spoil(d plannedDraft, page string) {
	v, pressure := m.as(d.Engineer), page+"/sections/pressure"
	if d.Stale {
		one, two := v.get(pressure), v.get(pressure)
		one.fill(pressure, fields{"pressure.standing_mbar": "22.3"}).press("").was(http.StatusOK)
		two.fill(pressure, fields{"pressure.standing_mbar": "23.3"}).press("").was(http.StatusConflict)
	}
	for _, key := range sortedKeys(d.Refused) {
		section, _, _ := strings.Cut(key, ".")
		path := page + "/sections/" + section
		v.get(path).fill(path, fields{key: d.Refused[key]}).press("").was(http.StatusUnprocessableEntity)
	}
	if d.Discarded {
		v.enter(page, "/discard", fields{"sure": "yes"})
	}
}

// picture draws a small picture, another for each name.
func picture(tb testing.TB, name string, asPNG bool) (file string, data []byte) {
	tb.Helper()
	h := fnv.New32a()
	h.Write([]byte(name))
	seed := h.Sum32()
	img := image.NewRGBA(image.Rect(0, 0, 96, 72))
	for y := range 72 {
		for x := range 96 {
			shade := uint8((x*int(1+seed%3) + y*int(1+seed/3%3)) % 256)
			img.Set(x, y, color.RGBA{R: shade, G: uint8(seed >> 8), B: uint8(seed >> 16), A: 255})
		}
	}
	var b bytes.Buffer
	var err error
	if asPNG {
		file, err = "picture.png", png.Encode(&b, img)
	} else {
		file, err = "picture.jpg", jpeg.Encode(&b, img, &jpeg.Options{Quality: 80})
	}
	if err != nil {
		tb.Fatal(err)
	}
	return file, b.Bytes()
}
