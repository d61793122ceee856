package records_test

import (
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
)

// shownWhen is which answers to one field have others asked for.
type shownWhen struct{ asks, answers, fields string }

// Written from the work, not from the fields: what is read at a roof terminal, at
// an open-vented system or at one rate only is not asked for. Common practice, no
// published source.
var shownWhens = []shownWhen{
	{"appliance.condensing", "no", "appliance.condensing_reason"},
	{"tightness.situation", "connected", "tightness.pipework_drop_mbar"},
	{"pressure.examined", "both pressure", "pressure.gauge pressure.time pressure.standing_mbar pressure.load " +
		"pressure.meter_mbar pressure.appliance_mbar"},
	{"pressure.examined", "pressure input neither", "pressure.examined_reason"},
	{"pressure.load", "highest", "pressure.other_flow_m3_per_h"},
	{"heat.meter", "metric", "heat.start_m3 heat.end_m3"}, {"heat.meter", "imperial", "heat.dial_ft3 heat.turns"},
	{"combustion.min_rate", "taken", "combustion.min_co_ppm combustion.min_co2_pct combustion.min_o2_pct " +
		"combustion.min_flue_temp_c"},
	{"combustion.min_rate", "not-possible", "combustion.min_rate_reason"},
	{"flue.terminal", "wall", "flue.fall_mm_per_m"}, {"flue.low", "yes", "flue.guard"},
	{"ventilation.place", "room", "ventilation.airtight ventilation.opening_cm2"},
	{"ventilation.place", "compartment", "ventilation.vents_to ventilation.high_cm2 ventilation.low_cm2"},
	{"ventilation.stated", "area", "ventilation.stated_high_cm2 ventilation.stated_low_cm2"},
	{"ventilation.stated", "none area", "ventilation.stated_document"},
	{"ventilation.alarm", "yes", "ventilation.alarm_room ventilation.alarm_distance_m ventilation.alarm_fixed " +
		"ventilation.alarm_standard ventilation.alarm_power ventilation.alarm_expiry ventilation.alarm_tested"},
	{"ventilation.alarm_fixed", "ceiling", "ventilation.alarm_from_wall_mm"},
	{"ventilation.alarm_fixed", "wall", "ventilation.alarm_below_ceiling_mm ventilation.alarm_above_openings"},
	{"water.volume_basis", "known", "water.volume_l"}, {"water.volume_basis", "output", "water.emitters"},
	{"water.volume_basis", "panels", "water.panels_single water.panels_double"},
	{"water.system", "sealed", "water.cold_fill_bar water.vessel_charge_bar water.vessel_l water.vessel_stated_l " +
		"water.static_height_m water.safety_valve_bar water.flow_max_c water.discharge_pipe water.discharge_end " +
		"water.filling_loop_off"},
	{"water.condensate_outside", "yes",
		"water.condensate_outside_mm water.condensate_outside_m water.condensate_insulated"},
	{"electrical.supply", "spur plug",
		"electrical.fuse_a electrical.fuse_stated_a electrical.polarity electrical.earth " +
			"electrical.isolation"},
	{"electrical.bond", "fitted", "electrical.bond_mm2 electrical.bond_at"},
	{"electrical.bond_at", "meter", "electrical.bond_from_meter_mm"},
	{"handover.notifiable", "no", "handover.notifiable_reason"},
}

// example is an entry that the field takes.
func example(f *records.Field) string {
	switch f.Kind {
	case records.NumberKind:
		return records.FormatNumber(f.Max, -1)
	case records.ChoiceKind:
		return f.Choices[0].Code
	case records.FlagKind:
		return "yes"
	case records.ClockKind:
		return "10:35"
	case records.DateKind:
		return "2026-11-26"
	}
	return "gauge-1"
}

// A field is asked for under the answers of its row and no others, not without
// an answer, and always shown while a value stands in it.
func TestFieldsShownByTheAnswers(t *testing.T) {
	listed := map[string]bool{}
	for _, row := range shownWhens {
		asks := records.FieldByKey(row.asks)
		answers := []string{"", "yes", "no"}
		if asks.Kind == records.ChoiceKind {
			answers = []string{""}
			for _, c := range asks.Choices {
				answers = append(answers, c.Code)
			}
		}
		for _, key := range strings.Fields(row.fields) {
			f := records.FieldByKey(key)
			listed[key] = true
			for _, answer := range answers {
				vs := records.Values{}
				if answer != "" {
					vs.Put(asks, answer)
				}
				want := slices.Contains(strings.Fields(row.answers), answer)
				if vs.Asked(f) != want || vs.Shown(f) != want {
					t.Errorf("%s with %s=%q: asked %v, shown %v", key, row.asks, answer, vs.Asked(f), vs.Shown(f))
				}
				vs.Put(f, example(f))
				if vs.Asked(f) != want || !vs.Shown(f) {
					t.Errorf("%s holds a value, with %s=%q: asked %v, shown %v", key, row.asks, answer, vs.Asked(f), vs.Shown(f))
				}
			}
		}
	}
	for _, s := range records.Sections {
		for _, f := range s.Fields() {
			if !listed[f.Key] && !(records.Values{}).Asked(f) {
				t.Errorf("%s is not always asked for, and is in no row", f.Key)
			}
		}
	}
}

// What a visit may be booked for: today to two years ahead, both times or none.
func TestAppointmentChecked(t *testing.T) {
	today := records.MustDate("2026-11-26")
	for name, c := range map[string]struct {
		on, from, until, field, says string
	}{
		"today":               {"2026-11-26", "", "", "", ""},
		"yesterday":           {"2026-11-25", "", "", "on", "today or a day to come"},
		"in two years":        {"2028-11-26", "", "", "", ""},
		"later than that":     {"2028-11-27", "", "", "on", "within two years"},
		"no day":              {"", "", "", "on", "YYYY-MM-DD"},
		"a morning":           {"2026-11-27", " 08:00 ", "12:00", "", ""},
		"one minute":          {"2026-11-27", "08:00", "08:01", "", ""},
		"no time at all":      {"2026-11-27", "08:00", "08:00", "until", "later than the first"},
		"backwards":           {"2026-11-27", "12:00", "08:00", "until", "later than the first"},
		"an end alone":        {"2026-11-27", "", "12:00", "from", "or neither time"},
		"a start alone":       {"2026-11-27", "08:00", "", "until", "or neither time"},
		"midnight":            {"2026-11-27", "23:00", "24:00", "until", "“24:00” is not accepted"},
		"without its zero":    {"2026-11-27", "8:00", "12:00", "from", "HH:MM"},
		"in the old way":      {"2026-11-27", "08.00", "12:00", "from", "HH:MM"},
		"an hour too many":    {"2026-11-27", "25:00", "26:00", "", ""},
		"a minute too many":   {"2026-11-27", "08:60", "12:00", "from", "“08:60”"},
		"leap day":            {"2028-02-29", "", "", "", ""},
		"late on a leap year": {"2026-11-26", "23:58", "23:59", "", ""},
	} {
		a := records.Appointment{From: c.from, Until: c.until}
		if c.on != "" {
			a.On = records.MustDate(c.on)
		}
		got, err := a.Checked(today)
		if name == "an hour too many" {
			if fields := fieldsOf(err); !slices.Equal(fields, []string{"from", "until"}) {
				t.Errorf("%s: about %v: %v", name, fields, err)
			}
			continue
		}
		mustBeAbout(t, name, err, c.field, c.says)
		if err == nil && got.From != strings.TrimSpace(c.from) {
			t.Errorf("%s: not tidied up: %+v", name, got)
		}
		if b,
			err2 := (records.NewBooking{Appointment: a, Today: today,
			Note: " to measure "}).Checked(); (err == nil) != (err2 == nil) ||
			err2 == nil && b.Note != "to measure" {
			t.Errorf("%s: booked as %+v, %v", name, b, err2)
		}
	}
	_, err := records.NewBooking{Appointment: records.Appointment{On: today}, Today: today, Note: long(1001)}.Checked()
	mustBeAbout(t, "long note", err, "note", "1000")
	for want, a := range map[string]records.Appointment{"26 November 2026": {On: today},
		"26 November 2026, 08:00 to 12:00": {On: today, From: "08:00", Until: "12:00"}} {
		if a.String() != want {
			t.Errorf("%q, want %q", a, want)
		}
	}
}

// A message that can go out, and where its token goes.
func TestMessageCheckedAndFilled(t *testing.T) {
	good := records.Message{Kind: " service due ", ToEmail: " c@home.example ", Subject: "Service",
		Text: "Dear customer"}
	if m, err := good.Checked(); err != nil || m.Kind != "service due" || m.ToEmail != "c@home.example" {
		t.Errorf("not tidied up: %+v, %v", m, err)
	}
	for name, c := range map[string]struct {
		edit        func(*records.Message)
		field, says string
	}{
		"no kind":      {func(m *records.Message) { m.Kind = "" }, "kind", "blank"},
		"kind of 60":   {func(m *records.Message) { m.Kind = long(60) }, "", ""},
		"kind of 61":   {func(m *records.Message) { m.Kind = long(61) }, "kind", "60"},
		"no address":   {func(m *records.Message) { m.ToEmail = "" }, "to_email", "blank"},
		"address of 2": {func(m *records.Message) { m.ToEmail = "a@" }, "to_email", "“a@”"},
		"address of 3": {func(m *records.Message) { m.ToEmail = "a@b" }, "", ""},
		"two addresses": {func(m *records.Message) { m.ToEmail = "a@b.example\nBcc: x@y.example" }, "to_email",
			"one line"},
		"two subjects":    {func(m *records.Message) { m.Subject = "One\r\nTwo" }, "subject", "one line"},
		"subject of 200":  {func(m *records.Message) { m.Subject = long(200) }, "", ""},
		"subject of 201":  {func(m *records.Message) { m.Subject = long(201) }, "subject", "200"},
		"no subject":      {func(m *records.Message) { m.Subject = " " }, "subject", "blank"},
		"name of 81":      {func(m *records.Message) { m.ToName = long(81) }, "to_name", "80"},
		"nothing to read": {func(m *records.Message) { m.Text = "" }, "text", "cannot be left blank"},
	} {
		m := good
		c.edit(&m)
		_, err := m.Checked()
		mustBeAbout(t, name, err, c.field, c.says)
	}
	mark := records.TokenMark
	m := records.Message{Subject: mark, Text: "a " + mark + " b " + mark, HTML: "<" + mark + ">",
		StopURL: "/stop/" + mark}
	if got := m.With("tkn"); got.Text != "a tkn b tkn" || got.HTML != "<tkn>" || got.StopURL != "/stop/tkn" ||
		got.Subject != mark ||
		!strings.Contains(m.Text, mark) {
		t.Errorf("filled in: %+v, from %+v", got, m)
	}
	for kind, want := range map[string]bool{records.InvitationKind: true, records.AccountKind: true, "service due": false,
		"": false} {
		if got := (records.Message{Kind: kind}).AboutAccount(); got != want {
			t.Errorf("%q is about an account: %v", kind, got)
		}
	}
}
