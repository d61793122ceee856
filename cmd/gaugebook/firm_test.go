package main

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// The invented firm of these tests. The passwords protect nothing: each test
// has a folder of its own.
const (
	ownerEmail, ownerPassword       = "mossop@greystane.example", "larch bucket meridian"
	engineerEmail, engineerPassword = "yarrow@greystane.example", "copper thimble estuary"
	officeEmail, officePassword     = "finch@greystane.example", "paper harbour lantern"
	firmEmail                       = "office@greystane.example"
)

// today is the date in the zone that the server works in by default.
func today(tb testing.TB) records.Date {
	tb.Helper()
	zone, err := time.LoadLocation(defaultZone)
	if err != nil {
		tb.Fatal(err)
	}
	return records.DateOf(time.Now().In(zone))
}

// firm is a served register with its three people signed in.
type firm struct {
	*service
	owner, engineer, office *visitor
	instruments             map[string]string // id in the sample record → id here
}

// newOwner puts the owner into an empty folder.
func newOwner(tb testing.TB, dir string) {
	tb.Helper()
	out := must(tb, ownerPassword+"\n", "owner", "--data", dir, "--name", "Alder Mossop", "--email", ownerEmail)
	if !strings.Contains(out, "Alder Mossop can sign in as "+ownerEmail) {
		tb.Fatalf("owner: %s", out)
	}
}

// setUp makes the firm through its pages: details, people, instruments.
func setUp(tb testing.TB, s *service) *firm {
	tb.Helper()
	f := &firm{service: s, owner: s.visitor(tb), engineer: s.visitor(tb), office: s.visitor(tb),
		instruments: map[string]string{}}
	f.owner.signIn(ownerEmail, ownerPassword)
	f.owner.get("/firm").fill("/firm", fields{"name": "Greystane Heating",
		"address": "9 Cooper's Row, Ambershaw, AA3 1BB", "phone": "01632 960177",
		"email": firmEmail, "registration": "880011"}).press().was(200).says("Saved.")
	day := today(tb)
	for _, p := range []fields{
		{"name": "Sorrel Yarrow", "email": engineerEmail, "role": "engineer", "licence": "8800112",
			"competence_until": day.AddMonths(20).String(), "password": engineerPassword},
		{"name": "Wren Finch", "email": officeEmail, "role": "office", "password": officePassword},
	} {
		f.owner.get("/people").fill("/people", p).press().was(200).says("They can sign in now", p["name"])
	}
	f.engineer.signIn(engineerEmail, engineerPassword)
	f.office.signIn(officeEmail, officePassword)
	for _, i := range rules.Sample().Instruments {
		p := f.office.get("/instruments").fill("/instruments", fields{"kind": i.Kind, "make": i.Make, "model": i.Model,
			"serial":          i.Serial,
			"calibrated_on":   day.AddMonths(-5).String(),
			"calibration_due": day.AddMonths(7).String()}).press().was(200).says(i.Serial)
		for _, href := range p.links("/instruments/") {
			id := strings.TrimPrefix(href, "/instruments/")
			if strings.Contains(f.office.get(href).words(), i.Serial) {
				f.instruments[i.ID] = id
			}
		}
		if f.instruments[i.ID] == "" {
			tb.Fatalf("instrument %s is not listed", i.Serial)
		}
	}
	return f
}

// sampleEntries turns the readings of the sample record, all inside their
// limits, into what the form of one section calls them.
func (f *firm) sampleEntries(section records.SectionID) fields {
	vs, out := rules.Sample().Values, fields{}
	for _, field := range records.SectionByID(section).Fields() {
		v := vs[field.Key]
		switch {
		case !v.Present():
		case field.Kind == records.InstrumentKind:
			out[field.Key] = f.instruments[v.Text()]
		case field.Kind == records.RowsKind:
			for i, row := range v.Rows() {
				for column, cell := range row {
					out[fmt.Sprintf("%s[%d].%s", field.Key, i, column)] = cell.Text()
				}
			}
		default:
			out[field.Key] = v.Text()
		}
	}
	if section == "handover" {
		out[records.EngineerName.Key] = "Sorrel Yarrow"
	}
	return out
}

// fillSection enters the sample's readings of a section. Without script a
// list has two blank rows at a time: it is saved until all of them fit.
func (f *firm) fillSection(record string, section records.SectionID) *page {
	path := "/records/" + record + "/sections/" + string(section)
	in := f.sampleEntries(section)
	for range 4 {
		p := f.engineer.get(path)
		now, later := fields{}, false
		known := p.form(path).known
		for name, value := range in {
			if known[name] {
				now[name] = value
			} else {
				later = true
			}
		}
		p = p.fill(path, now).press("").was(200)
		if !later {
			return p
		}
	}
	f.tb.Fatalf("%s: the rows never fit", section)
	return nil
}

// addHome puts in a property and its appliance and returns both ids.
func (f *firm) addHome(line1, email string) (property, appliance string) {
	p := f.engineer.get("/properties/new").fill("/properties", fields{"line1": line1, "town": "Ambershaw",
		"postcode": "AA7 4TB", "nation": "England",
		"customer.name": "Imogen Farrow", "customer.tenure": "owner-occupier", "customer.phone": "01632 960114",
		"customer.email": email}).press().was(200).says(line1)
	property = strings.TrimPrefix(p.path, "/properties/")
	form := "/properties/" + property + "/appliances"
	p = f.engineer.get(form+"/new").fill(form, f.sampleEntries("appliance")).press().was(200).says("Tarnwick TC 24")
	return property, strings.TrimPrefix(p.path, "/appliances/")
}

// startRecord opens a draft and returns its id.
func (f *firm) startRecord(appliance string, purpose records.Purpose, day records.Date) string {
	form := "/appliances/" + appliance + "/records"
	p := f.engineer.get("/appliances/"+appliance).fill(form, fields{"purpose": string(purpose),
		"work_date": day.String()}).press().was(200)
	id, ok := strings.CutPrefix(p.path, "/records/")
	if !ok {
		f.tb.Fatalf("starting a record led to %s", p.path)
	}
	return id
}

// fillRecord enters every section of the sample record.
func (f *firm) fillRecord(record string) {
	for _, s := range records.Sections {
		f.fillSection(record, s.ID)
	}
}

// issued is an issued record as its page names it.
type issued struct{ id, number, code string }

func (i issued) String() string { return i.number + " " + i.code }

// issueRecord reviews and issues a draft that nothing is missing from.
func (f *firm) issueRecord(record string) issued {
	p := f.engineer.get("/records/" + record +
		"/review").says("every reading is inside its limit or exempt").form("/records/" + record +
		"/issue").press().was(200)
	return issuedOf(p, record)
}

func issuedOf(p *page, record string) issued {
	p.v.tb.Helper()
	parts := strings.Split(p.link("/v/"), "/")
	if len(parts) != 4 {
		p.v.tb.Fatalf("verification link %v", parts)
	}
	return issued{record, parts[2], parts[3]}
}
