package demo

import (
	"context"
	"errors"
	"fmt"
	mathrand "math/rand/v2"
	"strings"
	"time"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/rules"
	"gaugebook/records/store"
)

// MostBulk is how many appliances FillMany makes at the most.
const MostBulk = 2_000_000

// bulkVisits is how many records each generated appliance has, a year apart.
const bulkVisits = 3

// FillMany fills a register with n generated appliances for trying out a
// large one: each at an address of its own, with three records and the duty
// that follows from the last. It is no story as Fill tells: the visits of one
// model all share the same few readings and one finding, and nothing was printed or sent. The
// store must be empty. Everything but the passwords comes out the same each
// time.
func FillMany(ctx context.Context, o Options, n int, progress func(done int)) ([]SignIn, store.FillReport, error) {
	if n < 1 || n > MostBulk {
		return nil, store.FillReport{}, &records.Error{Kind: records.Invalid, Field: "appliances", Label: "Appliances",
			Value: fmt.Sprint(n), Want: fmt.Sprintf("a number from 1 to %d", MostBulk)}
	}
	f := &filler{Options: o, people: map[string]records.Person{}, calibrated: map[string]records.Date{}}
	o.Clock.to(f.at(o.Today, 7))
	signIns, err := f.firm(ctx)
	if err != nil {
		return nil, store.FillReport{}, err
	}
	if err := f.calibrate(ctx, o.Today); err != nil {
		return nil, store.FillReport{}, err
	}
	b := bulkMaker{filler: f, engineer: f.people["Anwen"]}
	for _, m := range models {
		t, err := bulkTemplate(m, o.Today)
		if err != nil {
			return nil, store.FillReport{}, err
		}
		b.templates = append(b.templates, t)
	}
	report, err := o.Store.Bulk.Fill(ctx, records.Actor{Name: "demo"}, n, b.appliance, progress)
	return signIns, report, err
}

// template is what the records of one model have in common.
type template struct {
	model    model
	readings records.Values
	findings []records.Finding
}

// bulkTemplate draws one full visit and keeps one finding of it, the shortest
// of those on pressure and combustion that are inside their limit, with the
// readings that it goes by: a million records must fit on a disk.
func bulkTemplate(m model, on records.Date) (template, error) {
	rng := mathrand.New(mathrand.NewPCG(2, 20))
	full := m.visit(rng, on, records.Service, "", "")
	for key, v := range m.plate("x", true) {
		full[key] = v
	}
	t := template{model: m, readings: records.Values{}}
	r := &records.Record{Purpose: records.Service, WorkDate: on, Property: records.Property{Nation: records.England},
		Values: full}
	shortest := 0
	for _, f := range rules.Evaluate(r, records.Facts{}) {
		size := len(fmt.Sprint(f))
		if f.Outcome != records.Inside || f.Limit == nil || f.Section != records.Pressure.ID &&
			f.Section != records.Combustion.ID || shortest > 0 && size >= shortest {
			continue
		}
		shortest, t.findings = size, []records.Finding{f}
	}
	if shortest == 0 {
		return t, errors.New("no finding of a " + m.kind + " is inside its limit")
	}
	for _, key := range t.findings[0].Fields {
		if v, ok := full[key]; ok && records.FieldByKey(key).Kind != records.RowsKind {
			t.readings[key] = v
		}
	}
	return t, nil
}

type bulkMaker struct {
	*filler
	engineer  records.Person
	templates []template
}

// appliance makes the ith.
func (b *bulkMaker) appliance(i int, number func(year int) string) (store.Filled, error) {
	t := b.templates[i*7%len(b.templates)]
	f := store.Filled{Property: bulkProperty(i), Values: records.Values{}}
	serial := fmt.Sprintf("%s%02d-%07d", strings.ToUpper(t.model.make[:2]), 18+i%8, i+1)
	for _, field := range []*records.Field{records.ApplianceKind.Field, records.ApplianceMake.Field,
		records.ApplianceModel.Field, records.ApplianceSerial.Field, records.ApplianceLocation.Field,
		records.ApplianceFuel.Field} {
		f.Values.Put(field, map[string]string{records.ApplianceKind.Key: t.model.kind,
			records.ApplianceMake.Key: t.model.make, records.ApplianceModel.Key: t.model.name,
			records.ApplianceSerial.Key: serial, records.ApplianceLocation.Key: t.model.location,
			records.ApplianceFuel.Key: t.model.fuel}[field.Key])
	}
	last := b.Today.AddDays(-1 - i*37%400)
	for visit := range bulkVisits {
		purpose := records.Service
		if visit == 0 {
			purpose = records.Commissioning
		}
		r, err := b.record(f, t, purpose, last.AddMonths(-12*(bulkVisits-1-visit)).AddDays(-i%5*(bulkVisits-1-visit)),
			number)
		if err != nil {
			return f, err
		}
		f.Records = append(f.Records, r)
	}
	return f, nil
}

func (b *bulkMaker) record(f store.Filled, t template, purpose records.Purpose, on records.Date,
	number func(year int) string) (store.FilledRecord, error) {
	values := f.Values.Clone()
	for key, v := range t.readings {
		values[key] = v
	}
	r := &records.Record{Purpose: purpose, WorkDate: on, Property: f.Property.Property, Contact: f.Property.Contact,
		Firm: firm, Values: values, Stage: records.StageIssued,
		Engineer: b.engineer.Engineer()}
	at, by := b.at(on, 16).UTC().Truncate(time.Second), b.engineer.Signatory()
	issued := records.Issued{Number: number(at.Year()), IssuedAt: at, Record: r, Findings: t.findings,
		Standing: records.StandingOf(t.findings),
		Duties:   []records.Duty{due.AnnualService(on, 0)}, IssuedBy: &by}
	canonical, err := issued.Canonical()
	if err != nil {
		return store.FilledRecord{}, err
	}
	return store.FilledRecord{Issued: issued, Canonical: canonical, Seal: records.SealOf(canonical, b.Key),
		EngineerID: b.engineer.ID}, nil
}

// The words that generated addresses and people are put together from; all
// invented.
var (
	bulkStreets = []string{"Quillet", "Saltpan", "Corder", "Tinder", "Whin", "Lantern", "Orrery", "Harbour", "Linden",
		"Cairn", "Dulse", "Strand", "Fuller", "Ryecote", "Thimble", "Osprey", "Mallow", "Cinder", "Pippin"}
	bulkWays = []string{"Row", "Lane", "Street", "Close", "Road", "Gardens", "Terrace", "Avenue", "Court", "Rise",
		"Walk"}
	bulkFirst = []string{"Ottoline", "Bertil", "Hestia", "Lucan", "Dorrit", "Ingram", "Priya", "Theodora", "Gwenllian",
		"Emrys", "Eilidh", "Fergus", "Aoife"}
	bulkLast = []string{"Varne", "Ashgrove", "Thripp", "Maskell", "Pollard", "Devnath", "Kalliri", "Prys", "Howell",
		"Torrance", "Auchter", "Hanratty", "Devenny", "Boal", "Tully", "Rendall", "Strang"}
	bulkTowns = []struct {
		area   string
		nation records.Nation
		towns  []string
	}{
		{"AA", eng, []string{"Marrowby", "Skelby", "Haxley"}}, {"AB", eng, []string{"Upper Marrowby", "Ryecote"}},
		{"AL", eng, []string{"Marrowby Green"}},
		{"WX", wal, []string{"Llanferth", "Cwmdarren", "Aberdwyrain"}},
		{"SX", sco, []string{"Dunferrick", "Balnacraig", "Portlennan"}},
		{"NX", nir, []string{"Carrickmoyle", "Drumlester", "Portdoran"}},
	}
)

// inwardLetters are those that the last two places of a postcode may hold.
const inwardLetters = "ABDEFGHJLNPQRSTUWXYZ"

// bulkProperty is the ith address: a dozen to a postcode.
func bulkProperty(i int) records.PropertyEntry {
	place := bulkTowns[i%len(bulkTowns)]
	at, home := i/len(bulkTowns)/12, i/len(bulkTowns)%12
	letters := len(inwardLetters)
	postcode := fmt.Sprintf("%s%d %d%c%c", place.area, 1+at/(letters*letters*10)%99, at%10,
		inwardLetters[at/10%letters], inwardLetters[at/10/letters%letters])
	first, last := bulkFirst[i%len(bulkFirst)], bulkLast[i%len(bulkLast)]
	p := records.PropertyEntry{
		Property: records.Property{Line1: fmt.Sprintf("%d %s %s", 1+home*2+at%2, bulkStreets[at%len(bulkStreets)],
			bulkWays[at%len(bulkWays)]), Town: place.towns[at%len(place.towns)], Postcode: postcode,
			Nation: place.nation},
		Contact: records.Contact{Name: first + " " + last, Email: fmt.Sprintf("%s.%s%d@home.example",
			strings.ToLower(first), strings.ToLower(last), i),
			Phone: fmt.Sprintf("01632 960%03d", i%1000), Tenure: own},
	}
	if i%5 == 3 {
		p.Contact.Tenure = let
	}
	return p
}
