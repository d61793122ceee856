package due_test

import (
	"bytes"
	"encoding/csv"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/due"
)

const data = "../../testdata/due/"

func readTable(t *testing.T, name string) []map[string]string {
	t.Helper()
	raw, err := os.ReadFile(data + name)
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(bytes.NewReader(raw))
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, name := range lines[0] {
			row[name] = line[i]
		}
		out = append(out, row)
	}
	return out
}

func date(t *testing.T, s string) records.Date {
	t.Helper()
	if s == "" {
		return records.Date{}
	}
	d, err := records.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Source: relativedelta of Debian's python3-dateutil.
func TestMonthsAgainstDateutil(t *testing.T) {
	compared := 0
	for _, row := range readTable(t, "months_dateutil.csv") {
		offset, err := strconv.Atoi(row["offset"])
		if err != nil {
			t.Fatal(err)
		}
		first := date(t, row["month"]+"-01")
		there := date(t, row["arrives_in"]+"-01")
		for i, day := range strings.Fields(row["days"]) {
			n, err := strconv.Atoi(day)
			if err != nil {
				t.Fatal(err)
			}
			from := first.AddDays(i)
			want := records.Date{Year: there.Year, Month: there.Month, Day: n}
			if got := from.AddMonths(offset); got != want {
				t.Errorf("%s %+d months = %s, want %s", from, offset, got, want)
			}
			compared++
		}
	}
	if want := 5 * records.MustDate("2033-01-01").DaysSince(records.MustDate("2024-01-01")); compared != want {
		t.Errorf("compared %d dates, want every day of nine years five times: %d", compared, want)
	}
}

func TestDateutilTableIsCurrent(t *testing.T) {
	got, err := exec.Command("/usr/bin/python3", data+"make_dateutil_table.py").Output()
	if err != nil {
		t.Fatalf("needs Debian's python3 and python3-dateutil: %v", err)
	}
	want, err := os.ReadFile(data + "months_dateutil.csv")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Error("months_dateutil.csv is not what make_dateutil_table.py writes")
	}
}

func TestWorkedExamples(t *testing.T) {
	yesNo := map[bool]string{true: "yes", false: "no"}
	seen := map[string]int{}
	for _, row := range readTable(t, "examples.csv") {
		from, done, nation := date(t, row["from"]), date(t, row["done"]), records.Nation(row["nation"])
		got := map[string]string{}
		switch row["what"] {
		case "landlord check":
			c := due.LandlordCheck(from, done, nation)
			got = map[string]string{"due": c.Next.String(), "other": c.OtherNext.String(), "kept": yesNo[c.Kept],
				"late": yesNo[c.Late]}
			if wantWarning := row["other"] != "" || row["late"] == "yes"; wantWarning != (c.Warning != "") {
				t.Errorf("%v: warning %q", row, c.Warning)
			}
			effective := done
			if row["kept"] == "yes" {
				effective = from
			}
			if c.Effective != effective || c.Completed != done || c.Deadline != from {
				t.Errorf("%v: effective %s of %s for %s", row, c.Effective, c.Completed, c.Deadline)
			}
		case "first check":
			got["due"] = due.FirstLandlordDeadline(from).String()
		case "window opens":
			first, last := due.Window(from)
			got["due"] = first.String()
			if last != from {
				t.Errorf("%v: window ends %s", row, last)
			}
		case "tenant copy":
			got["due"] = due.TenantCopy(from, nation).Due.String()
		case "building notice":
			d, note, ok := due.BuildingNotice(from, nation)
			got["due"] = d.Due.String()
			if ok != (row["due"] != "") || note == "" {
				t.Errorf("%v: ok %v, note %q", row, ok, note)
			}
		case "incident report":
			got["due"] = due.IncidentReport(from, nation).Due.String()
		case "annual service":
			got["due"] = due.AnnualService(from, 12).Due.String()
		default:
			t.Fatalf("unknown example %q", row["what"])
		}
		for name, v := range got {
			if v != row[name] {
				t.Errorf("%v: %s is %s", row, name, v)
			}
		}
		if row["source"] == "" {
			t.Errorf("%v has no source", row)
		}
		seen[row["what"]]++
	}
	if len(seen) != 7 {
		t.Errorf("examples of %d sorts: %v", len(seen), seen)
	}
}

// Source: a landlord association's account of the 2018 change: always checked
// at ten and a half months gives ten checks in nine years by the old rule;
// with the date kept, nine.
func TestKeptDatesSaveACheck(t *testing.T) {
	start := records.MustDate("2018-12-01")
	deadline, checks := start.AddMonths(12), 0
	for deadline.Before(start.AddMonths(9*12 + 1)) {
		done := deadline.AddDays(-45)
		c := due.LandlordCheck(deadline, done, records.England)
		if !c.Kept {
			t.Fatalf("%s for %s not kept", done, deadline)
		}
		deadline = c.Next
		checks++
	}
	if checks != 9 {
		t.Errorf("%d checks in nine years, want 9", checks)
	}
}

// Regulation 36A(2) and (3), read in paraphrase: a first check may be put off
// by two months to align it. The next deadline stays twelve months after the
// check, whatever was meant.
func TestLateCheckNamesTheAllowanceForAFirstOne(t *testing.T) {
	for _, c := range []struct {
		name, deadline, done, next string
		nation                     records.Nation
		allowance                  bool
	}{
		{"a day late", "2027-03-10", "2027-03-11", "2028-03-11", records.England, true},
		{"the last day", "2027-03-10", "2027-05-10", "2028-05-10", records.Wales, true},
		{"one day too late", "2027-03-10", "2027-05-11", "2028-05-11", records.Scotland, false},
		{"the last day, month without the number", "2026-12-31", "2027-02-28", "2028-02-28", records.England, true},
		{"one day too late, the same", "2026-12-31", "2027-03-01", "2028-03-01", records.England, false},
		{"leap year", "2027-12-29", "2028-02-29", "2029-02-28", records.England, true},
		{"unconfirmed in Northern Ireland", "2027-03-10", "2027-03-11", "2028-03-11", records.NorthernIreland, false},
		{"in time", "2027-03-10", "2027-03-10", "2028-03-10", records.England, false},
	} {
		check := due.LandlordCheck(date(t, c.deadline), date(t, c.done), c.nation)
		if got := strings.Contains(check.Warning, "line it up"); got != c.allowance {
			t.Errorf("%s: names the allowance %v: %q", c.name, got, check.Warning)
		}
		if check.Next.String() != c.next || check.Late != (c.done > c.deadline) || !check.OtherNext.IsZero() {
			t.Errorf("%s: next %s, other %s, late %v", c.name, check.Next, check.OtherNext, check.Late)
		}
		if d := check.Duty(); !strings.HasSuffix(d.Why, check.Warning) {
			t.Errorf("%s: the duty does not say so: %q", c.name, d.Why)
		}
	}
}

func TestCalibrationAndCompetence(t *testing.T) {
	on, until := records.MustDate("2026-02-01"), records.MustDate("2027-01-15")
	gauge := records.Instrument{ID: "g1", Kind: "gauge", Serial: "G-1", CalibratedOn: on, CalibrationDue: until}
	if d, ok := due.Calibration(gauge); !ok || d.Due != until || d.Kind != records.Calibration {
		t.Errorf("with a date on the certificate: %v %v", d, ok)
	}
	gauge.CalibrationDue = records.Date{}
	if d, ok := due.Calibration(gauge); !ok || d.Due != records.MustDate("2027-02-01") ||
		d.Source.Confidence != records.Practice {
		t.Errorf("without: %v %v", d, ok)
	}
	gauge.CalibratedOn = records.Date{}
	if d, ok := due.Calibration(gauge); ok {
		t.Errorf("made up from nothing: %v", d)
	}
	if d, ok := due.CompetenceExpiry(records.Engineer{Name: "R. Field", CompetenceUntil: until}); !ok ||
		d.Due != until || d.Kind != records.CompetenceExpiry {
		t.Errorf("competence: %v %v", d, ok)
	}
	if d, ok := due.CompetenceExpiry(records.Engineer{Name: "R. Field"}); ok {
		t.Errorf("competence made up from nothing: %v", d)
	}
}

// Source: BS 7593:2019 as two trade texts give it: test yearly, dose or full
// test after five years.
func TestInhibitorRecheck(t *testing.T) {
	for _, c := range []struct{ dosed, tested, want, says string }{
		{"2026-06-30", "", "2027-06-30", "Test"},
		{"2026-06-30", "2026-06-30", "2027-06-30", "Test"},
		{"2022-01-10", "2026-01-09", "2027-01-09", "Test"},
		{"2022-01-10", "2026-01-10", "2027-01-10", "New dose"}, // both on one day
		{"2022-01-10", "2026-08-01", "2027-01-10", "New dose"},
		{"2024-02-29", "", "2025-02-28", "Test"},
		{"", "2026-06-30", "2027-06-30", "Test"},
	} {
		d := due.InhibitorRecheck(date(t, c.dosed), date(t, c.tested))
		if d.Due.String() != c.want || !strings.HasPrefix(d.Why, c.says) {
			t.Errorf("dosed %s, tested %s: %s, %q; want %s, %s", c.dosed, c.tested, d.Due, d.Why, c.want, c.says)
		}
	}
}
