package rules_test

import (
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// bases are the records that the cases start from, each the sample with
// changes written as in a case.
var bases = map[string]string{
	"clear":    "",
	"service":  "purpose=service",
	"landlord": "purpose=landlord check",
	"remedial": "purpose=remedial",
	"propane": "appliance.fuel=propane; tightness.stated_drop_mbar=0.5; tightness.stated_drop_source=Invented " +
		"procedure for LPG; pressure.standing_mbar=39; pressure.meter_mbar=36.8; pressure.appliance_mbar=36; " +
		"appliance.stated_inlet_min_mbar=; appliance.stated_inlet_max_mbar=; " +
		"appliance.stated_co2_max_rate_low_pct=; appliance.stated_co2_max_rate_high_pct=; " +
		"combustion.max_co2_pct=10.5; combustion.max_o2_pct=4.9; heat.cv_mj_per_m3=",
	"fire": "section.water=; section.delivery=; section.controls=; combustion.inlet_o2_pct=; " +
		"combustion.inlet_co2_pct=; flue.distances=; appliance.stated_ratio_max=0.02; flue.fall_mm_per_m=; " +
		"appliance.kind=fire; appliance.condensing=no; appliance.flue_kind=open-natural; " +
		"flue.terminal=roof; flue.system=single; flue.flow_test=drawn; flue.spillage_test=drawn; " +
		"appliance.stated_co2_max_rate_low_pct=; appliance.stated_co2_max_rate_high_pct=",
	"cooker": "section.water=; section.delivery=; section.controls=; section.combustion=; section.flue=; " +
		"appliance.kind=cooker; appliance.condensing=no; appliance.flue_kind=none",
	"flueless": "section.water=; section.delivery=; section.controls=; section.combustion=; section.flue=; " +
		"appliance.kind=flueless-heater; appliance.condensing=no; appliance.flue_kind=none",
	"imperial": "heat.meter=imperial; heat.start_m3=; heat.end_m3=; heat.dial_ft3=1; heat.turns=1; " +
		"heat.seconds=40.9; heat.cv_mj_per_m3=38.75",
	"unlimited": strings.Join(unstated(), "; "),
}

// unstated blanks every limit that the sample's manufacturer states.
func unstated() []string {
	var out []string
	for _, f := range records.ApplianceSection.Fields() {
		if strings.HasPrefix(f.Name(), "stated_") {
			out = append(out, f.Key+"=")
		}
	}
	return out
}

// ruleCase is one row of testdata/rules; see the README there.
type ruleCase struct {
	file, rule, base, changes, workDate string
	outcome                             records.Outcome
	shows, source, confidence           string
}

func (c ruleCase) String() string {
	return fmt.Sprintf("%s: %s on %s with %q", c.file, c.rule, c.base, c.changes)
}

var columns = []string{"rule", "base", "changes", "work_date", "outcome", "shows", "source", "confidence"}

// readCases reads one table and refuses a row that is not complete: a case
// without a source is no evidence.
func readCases(file string, in io.Reader) ([]ruleCase, error) {
	r := csv.NewReader(in)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		return nil, err
	}
	if len(rows) == 0 || strings.Join(rows[0], ",") != strings.Join(columns, ",") {
		return nil, fmt.Errorf("%s: the header must be %s", file, strings.Join(columns, ","))
	}
	var out []ruleCase
	for i, row := range rows[1:] {
		c := ruleCase{file, row[0], row[1], row[2], row[3], records.Outcome(row[4]), row[5], row[6], row[7]}
		if err := c.check(); err != nil {
			return nil, fmt.Errorf("%s row %d: %w", file, i+2, err)
		}
		out = append(out, c)
	}
	return out, nil
}

func (c ruleCase) check() error {
	if _, ok := bases[c.base]; !ok && c.base != "blank" {
		return fmt.Errorf("no base %q", c.base)
	}
	if c.source == "" {
		return fmt.Errorf("no source")
	}
	switch records.Confidence(c.confidence) {
	case records.Confirmed, records.OneSource, records.Practice, records.Unconfirmed:
	default:
		return fmt.Errorf("no such confidence %q", c.confidence)
	}
	switch c.outcome {
	case records.Inside, records.Outside, records.Missing, records.Doubtful, records.Exempt, records.Attention,
		records.Close:
		return nil
	}
	return fmt.Errorf("no such outcome %q", c.outcome)
}

func mustCases(tb testing.TB) []ruleCase {
	tb.Helper()
	files, err := filepath.Glob("../../testdata/rules/*.csv")
	if err != nil || len(files) == 0 {
		tb.Fatalf("no tables in testdata/rules: %v", err)
	}
	var out []ruleCase
	for _, file := range files {
		in, err := os.Open(file)
		if err != nil {
			tb.Fatal(err)
		}
		cases, err := readCases(filepath.Base(file), in)
		in.Close()
		if err != nil {
			tb.Fatal(err)
		}
		out = append(out, cases...)
	}
	return out
}

// build makes the record and the facts of a case.
func (c ruleCase) build() (*records.Record, records.Facts, error) {
	r, f := rules.Sample(), records.Facts{}
	if strings.HasSuffix(c.base, ".json") {
		in, err := os.Open("../../testdata/records/" + c.base)
		if err != nil {
			return nil, f, err
		}
		defer in.Close()
		if r, err = records.DecodeRecord(in); err != nil {
			return nil, f, err
		}
	}
	if c.base == "blank" {
		r = &records.Record{Purpose: records.Commissioning, WorkDate: r.WorkDate, Values: records.Values{}}
	}
	if err := change(r, &f, bases[c.base]); err != nil {
		return nil, f, err
	}
	if c.workDate != "" {
		d, err := records.ParseDate(c.workDate)
		if err != nil {
			return nil, f, err
		}
		r.WorkDate = d
	}
	return r, f, change(r, &f, c.changes)
}

// change applies key=value;… to a record; a blank value removes.
func change(r *records.Record, f *records.Facts, changes string) error {
	for _, one := range strings.Split(changes, ";") {
		if one = strings.TrimSpace(one); one == "" {
			continue
		}
		key, value, ok := strings.Cut(one, "=")
		if !ok {
			return fmt.Errorf("%q is not key=value", one)
		}
		if err := set(r, f, key, value); err != nil {
			return fmt.Errorf("%s: %w", one, err)
		}
	}
	return nil
}

func set(r *records.Record, f *records.Facts, key, value string) error {
	area, name, _ := strings.Cut(key, ".")
	switch area {
	case "section":
		return clearSection(r, name)
	case "owner":
		return setOwner(f, name, value)
	case "condition":
		return setCondition(r, name, value)
	case "purpose":
		r.Purpose = records.Purpose(value)
		return nil
	case "property":
		if name == "postcode" {
			r.Property.Postcode = value
			return nil
		}
		r.Property.Nation = records.Nation(value)
		return nil
	case "contact":
		r.Contact.Tenure = records.Tenure(value)
		return nil
	case "engineer":
		return setEngineer(r, name, value)
	case "instrument":
		return setInstrument(r, name, value)
	case "facts":
		return setFact(r, f, name, value)
	}
	field := records.FieldByKey(key)
	if field == nil {
		return fmt.Errorf("no such field")
	}
	if value == "" {
		delete(r.Values, key)
		return nil
	}
	if field.Kind == records.RowsKind {
		v, errs := records.RowsField{Field: field}.ParseRows(parseRows(value))
		if len(errs) > 0 {
			return errs
		}
		r.Values[key] = v
		return nil
	}
	v, err := field.Parse(value)
	if err != nil {
		return err
	}
	r.Values[key] = v
	return nil
}

// clearSection blanks a section, or the heating controls of the electrical one.
func clearSection(r *records.Record, name string) error {
	if name == "controls" {
		for _, g := range records.Electrical.Groups {
			if g.Title == "Heating controls" {
				for _, f := range g.Fields {
					delete(r.Values, f.Key)
				}
			}
		}
		return nil
	}
	s := records.SectionByID(records.SectionID(name))
	if s == nil {
		return fmt.Errorf("no such section")
	}
	for _, f := range s.Fields() {
		delete(r.Values, f.Key)
	}
	return nil
}

// setOwner takes owner.RULE=kind:level, or owner.RULE=guarded.
func setOwner(f *records.Facts, rule, value string) error {
	o := records.OwnerLimit{Rule: rule, EnteredBy: "nobody", Document: "invented for a test"}
	if value == "guarded" {
		o.Decision = records.Guarded
	} else {
		kind, level, _ := strings.Cut(value, ":")
		x, err := strconv.ParseFloat(level, 64)
		if err != nil {
			return err
		}
		o.Kind, o.High = kind, &x
	}
	f.OwnerLimits = append(f.OwnerLimits, o)
	return nil
}

// setCondition takes condition.RULE=reason: the engineer's word.
func setCondition(r *records.Record, rule, reason string) error {
	r.Condition = &records.ConditionReport{Entries: []records.ConditionEntry{{Rule: rule, Reason: reason}}}
	return nil
}

func setAccuracy(in *records.Instrument, q records.Quantity, value string) error {
	for _, info := range records.Quantities {
		if info.Quantity == q {
			a, _, err := records.ParseAccuracy(info, value)
			in.Accuracy = append(in.Accuracy, a)
			return err
		}
	}
	return fmt.Errorf("no such quantity")
}

// parseRows reads col:value+col:value|col:value…
func parseRows(s string) []map[string]string {
	var out []map[string]string
	for _, row := range strings.Split(s, "|") {
		m := map[string]string{}
		for _, cell := range strings.Split(row, "+") {
			col, v, _ := strings.Cut(cell, ":")
			m[strings.TrimSpace(col)] = v
		}
		out = append(out, m)
	}
	return out
}

func setEngineer(r *records.Record, name, value string) (err error) {
	switch name {
	case "name":
		r.Engineer.Name = value
	case "licence":
		r.Engineer.Licence = value
	case "competence_until":
		r.Engineer.CompetenceUntil, err = day(value)
	default:
		err = fmt.Errorf("no such part of the engineer")
	}
	return err
}

func day(value string) (records.Date, error) {
	if value == "" {
		return records.Date{}, nil
	}
	return records.ParseDate(value)
}

func setInstrument(r *records.Record, name, value string) (err error) {
	id, part, _ := strings.Cut(name, ".")
	for i := range r.Instruments {
		in := &r.Instruments[i]
		if in.ID != id {
			continue
		}
		switch part {
		case "kind":
			in.Kind = value
		case "calibrated_on":
			in.CalibratedOn, err = day(value)
		case "calibration_due":
			in.CalibrationDue, err = day(value)
		case "pressure", "oxygen", "co2", "co", "temperature":
			err = setAccuracy(in, records.Quantity(part), value)
		default:
			err = fmt.Errorf("no such part of an instrument")
		}
		return err
	}
	return fmt.Errorf("no such instrument")
}

// ownerEdition is the newest edition in force on a day whose permissible drops
// the owner enters.
func ownerEdition(day records.Date) string {
	code := ""
	for _, e := range records.TightnessEditions {
		if e.OwnerDrops != nil && e.Source.InForce(day) {
			code = e.Code
		}
	}
	return code
}

// setFact takes facts.earlier=same (an earlier record with the same values)
// or facts.bands=volume:drop+volume:drop, newer_bands being entered a day
// later. Bands of tests are plainly invented:
// the standard's table is not ours to ship.
func setFact(r *records.Record, f *records.Facts, name, value string) error {
	switch name {
	case "earlier":
		f.Earlier = r.Values.Clone()
		return nil
	case "bands", "newer_bands":
		b := records.DropBands{Edition: ownerEdition(r.WorkDate), Fuel: r.Values.Choice(records.ApplianceFuel),
			Clause: "invented for a test, table 0", EnteredBy: "nobody"}
		for _, cell := range strings.Split(value, "+") {
			var band records.DropBand
			if _, err := fmt.Sscanf(cell, "%f:%f", &band.UpToM3, &band.DropMbar); err != nil {
				return err
			}
			b.Bands = append(b.Bands, band)
		}
		if b.EnteredOn = records.MustDate("2026-10-02"); name == "newer_bands" {
			b.EnteredOn = b.EnteredOn.AddDays(1)
		}
		f.DropBands = append(f.DropBands, b)
		return nil
	}
	return fmt.Errorf("no such fact")
}
