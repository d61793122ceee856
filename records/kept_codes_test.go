package records_test

import (
	"strings"
	"testing"

	"gaugebook/records"
)

// keptCodes are the answers that records in registers hold. A code may be added,
// and may be retired into the past of its section; one that is only renamed or
// dropped here would leave sealed records and drafts with an answer that nobody
// can read. Our own codes: common practice, no published source.
var keptCodes = []struct{ field, codes string }{
	{"appliance.kind", "boiler-combination boiler-system boiler-regular water-heater warm-air fire " +
		"range-cooker cooker flueless-heater"},
	{"appliance.fuel", "natural-gas propane butane"},
	{"appliance.flue_kind", "room-sealed-fanned room-sealed-natural open-fanned open-natural none"},
	{"appliance.installed", "replacement new existing"},
	{"appliance.rated_input_basis", "net gross"},
	{"tightness.supply", "low medium"},
	{"tightness.situation", "new connected none-connected"},
	{"tightness.edition", "edition-3 edition-4"},
	{"tightness.meter", "g4 e6 g10 none"},
	{"tightness.runs.pipe", "copper-10 copper-12 copper-15 copper-22 copper-28 copper-35 steel-15 steel-20 " +
		"steel-25 steel-32 pe-20 pe-25 pe-32 corrugated"},
	{"tightness.gauge_kind", "electronic water"},
	{"pressure.examined", "both pressure input neither"},
	{"pressure.load", "highest alone"},
	{"heat.meter", "metric imperial"},
	{"combustion.co2_method", "from-o2 measured"},
	{"combustion.min_rate", "taken not-possible"},
	{"flue.system", "concentric twin single"},
	{"flue.terminal", "wall roof"},
	{"flue.inspection", "all hatches not"},
	{"flue.distances.position", "below-opening above-opening beside-opening below-gutter below-eaves " +
		"below-balcony beside-drain corner-or-boundary above-ground facing-surface facing-terminal " +
		"car-port-opening vertical-terminal beside-terminal from-own-wall roof-structure above-roof"},
	{"flue.flow_test", "drawn failed"},
	{"flue.spillage_test", "drawn failed"},
	{"ventilation.place", "room compartment outdoors"},
	{"ventilation.vents_to", "room outside none"},
	{"ventilation.stated", "silent none area"},
	{"ventilation.alarm_room", "same other"},
	{"ventilation.alarm_fixed", "ceiling wall free"},
	{"ventilation.alarm_power", "sealed wired replaceable"},
	{"water.cleaning", "power mains gravity none"},
	{"water.inhibitor_level", "enough low"},
	{"water.volume_basis", "known panels output"},
	{"water.emitters", "microbore steel cast-iron underfloor"},
	{"water.scale", "softener dosing physical none"},
	{"water.system", "sealed open-vented"},
	{"water.condensate_end", "internal gully combined soakaway rainwater"},
	{"delivery.system_new", "new kept"},
	{"electrical.supply", "spur plug none"},
	{"electrical.bond", "fitted absent plastic"},
	{"electrical.bond_at", "meter entry"},
	{"electrical.compensation", "weather load none"},
	{"electrical.extra_measure", "flue-gas-recovery weather load smart none"},
}

// Every code that a register may hold is still read, by the form as in a
// document, and says something in words; every choice is in the table.
func TestCodesOfKeptRecordsAreRead(t *testing.T) {
	listed := map[string]bool{}
	for _, row := range keptCodes {
		listed[row.field] = true
		f := fieldOrColumn(row.field)
		if f == nil {
			t.Errorf("%s: no such field", row.field)
			continue
		}
		codes := strings.Fields(row.codes)
		for _, code := range codes {
			v, err := f.Parse(code)
			if label := f.ChoiceLabel(code); err != nil || v.Text() != code || label == "" || label == code {
				t.Errorf("%s=%s: read as %q, shown as %q, %v", row.field, code, v.Text(), label, err)
			}
		}
		if len(codes) != len(f.Choices) {
			t.Errorf("%s has %d choices, the table %d: add what is new", row.field, len(f.Choices), len(codes))
		}
		_, err := f.Parse(codes[0] + "x")
		mustBeAbout(t, row.field, err, f.Key, "“"+codes[0]+"x” is not accepted: give one of ")
	}
	for _, s := range records.Sections {
		for _, f := range s.Fields() {
			if f.Kind == records.ChoiceKind && !listed[f.Key] {
				t.Errorf("%s is not in the table", f.Key)
			}
			for _, c := range f.Columns {
				if c.Kind == records.ChoiceKind && !listed[f.Key+"."+c.Key] {
					t.Errorf("%s.%s is not in the table", f.Key, c.Key)
				}
			}
		}
	}
}

// fieldOrColumn is a field by its key, or the column of a field.
func fieldOrColumn(key string) *records.Field {
	if f := records.FieldByKey(key); f != nil {
		return f
	}
	at := strings.LastIndex(key, ".")
	if f := records.FieldByKey(key[:at]); f != nil {
		return f.Column(key[at+1:])
	}
	return nil
}

// What a number in a row may be, as entryRanges says it of the fields.
var columnRanges = []entryRange{
	{"tightness.runs.length_m", "0.05", "200.00", "0.04", "200.01", "m"},
	{"tightness.runs.elbows", "0", "60", "-1", "61", ""},
	{"tightness.runs.bends", "0", "60", "-1", "61", ""},
	{"tightness.runs.tees", "0", "60", "-1", "61", ""},
	{"tightness.runs.bore_mm", "2.00", "60.00", "1.99", "60.01", "mm"},
	{"tightness.runs.litres_per_m", "0.010", "5.000", "0.009", "5.001", "l/m"},
	{"flue.bends.angle_deg", "5.0", "135.0", "4.9", "135.1", "°"},
	{"flue.bends.count", "1", "20", "0", "21", ""},
	{"flue.bends.equivalent_m", "0.00", "10.00", "-0.01", "10.01", "m"},
	{"flue.distances.distance_mm", "0", "20000", "-1", "20001", "mm"},
	{"flue.distances.stated_mm", "0", "5000", "-1", "5001", "mm"},
}

func TestNumbersInRowsAreTakenInTheirRange(t *testing.T) {
	for _, c := range columnRanges {
		key, name := c.key[:strings.LastIndex(c.key, ".")], c.key[strings.LastIndex(c.key, ".")+1:]
		f := records.FieldByKey(key)
		if col := f.Column(name); col == nil || col.Unit != c.unit {
			t.Errorf("%s: %+v, want a column in %q", c.key, col, c.unit)
			continue
		}
		for entry, taken := range map[string]bool{c.least: true, c.most: true, c.below: false, c.over: false} {
			v, errs := records.RowsField{Field: f}.ParseRows([]map[string]string{{}, {name: entry}})
			if taken && (len(errs) > 0 || len(v.Rows()) != 1 || v.Rows()[0].Text(name) != entry) {
				t.Errorf("%s = %s: %v, %v", c.key, entry, v.Rows(), errs)
			}
			if !taken && (len(errs) != 1 || errs[0].Field != key+"[1]."+name || errs[0].Value != entry) {
				t.Errorf("%s = %s: %v", c.key, entry, errs)
			}
		}
	}
}
