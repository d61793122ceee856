package exchange_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"gaugebook/records"
	"gaugebook/records/exchange"
)

var today = records.MustDate("2026-11-25")

func sample(n int) exchange.Line {
	vs := records.Values{}
	vs.Put(records.ApplianceKind.Field, records.KindCombination)
	vs.Put(records.ApplianceMake.Field, "Emberline")
	vs.Put(records.ApplianceModel.Field, "Hearth 24")
	vs.Put(records.ApplianceSerial.Field, fmt.Sprintf("EH-%06d", n))
	vs.Put(records.ApplianceLocation.Field, "Kitchen, left of the \"old\" hob")
	vs.Put(records.ApplianceFuel.Field, records.FuelNatural)
	return exchange.Line{
		Property: records.Property{Line1: fmt.Sprintf("%d Quillwater Lane", n), Line2: "Ŵyn’s Court",
			Town: "Ambershaw", Postcode: "AB12 3XY", Nation: records.Wales},
		Contact: records.Contact{Name: "Małgorzata Żurawska", Email: "m@home.example", Phone: "+44 1632 960214",
			Tenure: records.Landlord},
		Values: vs, Duty: records.AnnualService, Due: records.MustDate("2027-02-01"), State: records.Ahead,
		Number: "2026-00001", WorkDate: records.MustDate("2026-02-01"), Standing: records.Clear,
	}
}

func write(t testing.TB, open func(io.Writer) (exchange.LineWriter, error), lines ...exchange.Line) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := open(&b)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range lines {
		if err := w.Write(l); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Source of the signs that begin a formula: OWASP, CSV Injection.
func TestGuard(t *testing.T) {
	for in, want := range map[string]string{
		"=1+1": "'=1+1", "+44 1632": "'+44 1632", "-cmd": "'-cmd", "@SUM(A1)": "'@SUM(A1)", "\tx": "'\tx",
		"\rx": "'\rx", "\n=x": "'\n=x", "  =x": "'  =x",
		"-5": "-5", "+441632960214": "+441632960214", "-5.25": "-5.25", "-5.2.5": "'-5.2.5", "-": "'-",
		"2026-11-25": "2026-11-25", "": "", "'": "'", "plain": "plain",
	} {
		if got := exchange.Guard(in); got != want {
			t.Errorf("Guard(%q) = %q, want %q", in, got, want)
		}
		if got := exchange.Unguard(exchange.Guard(in)); got != in {
			t.Errorf("%q came back as %q", in, got)
		}
	}
	if got := exchange.Unguard("'s-Gravenhof"); got != "'s-Gravenhof" {
		t.Errorf("an apostrophe of the text was taken off: %q", got)
	}
}

// Every text column is tried with a formula; none gets out as one.
func TestNoFormulaGetsOut(t *testing.T) {
	evil := `=HYPERLINK("http://evil.example","x")`
	l := sample(1)
	l.Property.Line1, l.Property.Line2, l.Property.Town, l.Property.Postcode, l.Property.Nation = evil, evil, evil,
		evil, records.Nation(evil)
	l.Contact = records.Contact{Name: evil, Email: evil, Phone: evil, Tenure: records.Tenure(evil)}
	for _, f := range []records.TextField{records.ApplianceMake, records.ApplianceModel, records.ApplianceSerial,
		records.ApplianceLocation} {
		l.Values.Put(f.Field, "@"+f.Key)
	}
	l.Duty, l.Number, l.Standing, l.State = records.DutyKind(evil), evil, records.Standing(evil),
		records.DutyState(evil)
	rows, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(write(t, exchange.NewCSV, l),
		[]byte("\ufeff")))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	guarded := 0
	for i, cell := range rows[1] {
		if strings.ContainsAny(cell[:min(1, len(cell))], "=+-@\t\r") {
			t.Errorf("CSV, %s: %q", rows[0][i], cell)
		}
		if strings.HasPrefix(cell, "'") {
			guarded++
		}
	}
	if guarded != 17 {
		t.Errorf("%d cells guarded, want all 17 that hold a formula", guarded)
	}
	f, err := excelize.OpenReader(bytes.NewReader(write(t, exchange.NewWorkbook, l)))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for i, want := range rows[1] {
		at, _ := excelize.CoordinatesToCellName(i+1, 2)
		formula, ferr := f.GetCellFormula("Register", at)
		value, verr := f.GetCellValue("Register", at)
		if ferr != nil || verr != nil || formula != "" || value != want {
			t.Errorf("workbook %s: formula %q, value %q, want %q (%v, %v)", at, formula, value, want, ferr, verr)
		}
	}
}

// Dates of a workbook are dates, counted as a spreadsheet counts them: the
// worked value 45,000 for 15 March 2023 is from memory, unconfirmed, and
// agrees with 1 January 2000 being day 36,526 (ECMA-376 part 1, 18.17.4.1
// counts from 30 December 1899).
func TestWorkbookDates(t *testing.T) {
	l := sample(1)
	l.Due, l.WorkDate = records.MustDate("2023-03-15"), records.MustDate("2000-01-01")
	f, err := excelize.OpenReader(bytes.NewReader(write(t, exchange.NewWorkbook, l)))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for at, want := range map[string][2]string{"Q2": {"45000", "2023-03-15"}, "T2": {"36526", "2000-01-01"}} {
		raw, err1 := f.GetCellValue("Register", at, excelize.Options{RawCellValue: true})
		shown, err2 := f.GetCellValue("Register", at)
		if raw != want[0] || shown != want[1] || err1 != nil || err2 != nil {
			t.Errorf("%s: %s shown as %s, want %v", at, raw, shown, want)
		}
	}
}

// What is exported is read in again as it was.
func TestRoundTrip(t *testing.T) {
	lines := []exchange.Line{sample(1), sample(2), sample(3)}
	lines[1].Contact, lines[1].Values = records.Contact{}, lines[1].Values.Clone()
	lines[2].Property.Line1 = "=not a formula"
	table, err := exchange.OpenTable(bytes.NewReader(write(t, exchange.NewCSV, lines...)))
	if err != nil {
		t.Fatal(err)
	}
	m := exchange.Mapping{Column: exchange.Guess(table.Header)}
	if err := m.Check(len(table.Header)); err != nil {
		t.Fatal(err)
	}
	r := exchange.NewReader(table, m, today)
	for i, want := range lines {
		got, bad, err := r.Next()
		if err != nil || len(bad) > 0 {
			t.Fatalf("line %d: %v, %v", i, bad, err)
		}
		if got.Row != i+2 || got.Property != want.Property || got.Contact != want.Contact ||
			len(got.Values) != len(want.Values) {
			t.Errorf("line %d came back as %+v", i, got)
		}
		for k, v := range want.Values {
			if !got.Values[k].Equal(v) {
				t.Errorf("line %d: %s is %q, was %q", i, k, got.Values[k].Text(), v.Text())
			}
		}
	}
	if _, _, err := r.Next(); !errors.Is(err, io.EOF) {
		t.Errorf("after the last line: %v", err)
	}
}

func read(t *testing.T, text string) (items []exchange.Item, bad []*exchange.RowError, err error) {
	t.Helper()
	table, err := exchange.OpenTable(strings.NewReader(text))
	if err != nil {
		return nil, nil, err
	}
	m := exchange.Mapping{Column: exchange.Guess(table.Header),
		Default: map[exchange.Target]string{exchange.Nation: "England", exchange.Kind: records.KindSystem,
			exchange.Tenure: "owner-occupier"}}
	if err := m.Check(len(table.Header)); err != nil {
		return nil, nil, err
	}
	r := exchange.NewReader(table, m, today)
	for {
		item, wrong, err := r.Next()
		if errors.Is(err, io.EOF) {
			return items, bad, nil
		}
		if err != nil {
			return items, bad, err
		}
		if bad = append(bad, wrong...); len(wrong) == 0 {
			items = append(items, item)
		}
	}
}

// Delimiters, byte order marks, line ends and encodings as spreadsheet
// programs write them (common practice, no published source; quoting after
// RFC 4180).
func TestShapes(t *testing.T) {
	plain := "Address,Town,Post code,Make,Serial no.,Last service\r\n\"1, Elm Row\",Upham,ab1 " +
		"2de,Émile,S1,03/04/2025\r\n\r\n\"2\nElm Row\",Upham,AB1 2DE,X,S2,13/04/2025\r\n"
	latin := strings.ReplaceAll(plain, "É", "\xc9")
	wide := []byte{0xff, 0xfe}
	for _, r := range plain {
		wide = append(wide, byte(r), byte(r>>8))
	}
	plain = strings.ReplaceAll(plain, "\"2\nElm Row\"", "2 Elm Row")
	for name, text := range map[string]string{
		"plain": plain, "mark": "\ufeff" + plain, "Windows-1252": strings.ReplaceAll(latin, "\"2\nElm Row\"",
			"2 Elm Row"),
		"bare LF":   strings.ReplaceAll(plain, "\r\n", "\n"),
		"semicolon": strings.ReplaceAll(strings.ReplaceAll(plain, ",", ";"), "\"1;", "\"1,"),
		"tab":       strings.ReplaceAll(strings.ReplaceAll(plain, ",", "\t"), "\"1\t", "\"1,"),
		"UTF-16":    strings.ReplaceAll(string(wide), "\"\x002\x00\n\x00", "\"\x002\x00 \x00"),
	} {
		items, bad, err := read(t, text)
		if err != nil || len(bad) > 0 || len(items) != 2 {
			t.Errorf("%s: %d items, %v, %v", name, len(items), bad, err)
			continue
		}
		one := items[0]
		if one.Property.Line1 != "1, Elm Row" || one.Property.Postcode != "AB1 2DE" ||
			one.Values.Text(records.ApplianceMake) != "Émile" || one.LastService != records.MustDate("2025-04-03") ||
			items[1].Row != 4 {
			t.Errorf("%s: %+v", name, items)
		}
	}
	// A line end inside a cell is refused in an address, and the row is
	// still counted as a spreadsheet counts it.
	_, bad, err := read(t, "Address,Town,Postcode\n\"2\nElm Row\",Upham,AB1 2DE\n3 Elm Row,Upham,nonsense\n")
	if err != nil || len(bad) != 2 || bad[0].Row != 2 || bad[0].Column != "Address" || bad[1].Row != 3 ||
		bad[1].Column != "Postcode" || bad[1].Err.Value != "nonsense" || bad[1].Err.Want == "" {
		t.Errorf("%v, %v", bad, err)
	}
}

func TestRefused(t *testing.T) {
	head := "Address,Town,Postcode,Last service,Kind,Fuel,Tenure,Contact,E-mail\n"
	row := func(date, kind, fuel, tenure, name, email string) string {
		return head + "1 Elm Row,Upham,AB1 2DE," + strings.Join([]string{date, kind, fuel, tenure, name, email}, ",") +
			"\n"
	}
	for name, c := range map[string]struct{ text, want string }{
		"future":     {row("2026-11-26", "", "", "", "", ""), "not after today"},
		"no such":    {row("31/02/2025", "", "", "", "", ""), "DD/MM/YYYY"},
		"short year": {row("03/04/25", "", "", "", "", ""), "DD/MM/YYYY"},
		"kind":       {row("", "rocket", "", "", "", ""), "“rocket” is not accepted: give one of Combination boiler"},
		"lpg":        {row("", "", "LPG", "", "", ""), "Propane (LPG)"},
		"tenure":     {row("", "", "", "squire", "A Person", ""), "owner-occupier"},
		"e-mail":     {row("", "", "", "", "A Person", "not one"), "name@firm.example"},
		"nameless":   {row("", "", "", "", "", "a@home.example"), "cannot be left blank"},
		"slipped":    {head + "1 Elm Row,Upham,AB1 2DE,,,,,,,too far\n", "no such column"},
	} {
		_, bad, err := read(t, c.text)
		if err != nil || len(bad) != 1 || bad[0].Row != 2 || !strings.Contains(bad[0].Error(), c.want) {
			t.Errorf("%s: %v, %v", name, bad, err)
		}
	}
	for name, c := range map[string]struct{ text, want string }{
		"empty":      {"", "empty"},
		"blank":      {"\n\n , \n", "empty"},
		"workbook":   {"PK\x03\x04rest", "CSV"},
		"old":        {"\xd0\xcf\x11\xe0rest", "CSV"},
		"one column": {"Address\n1 Elm Row\n", "only one column"},
		"zero":       {"a,b\n\x00,\n", "not text"},
		"unclosed":   {head + "\"1 Elm Row,Upham\n", "line 2"},
		"cell":       {head + strings.Repeat("x", exchange.MaxCell+1) + ",\n", "10000 characters"},
		"columns":    {strings.Repeat("a,", exchange.MaxColumns) + "b\n", "columns"},
		"rows":       {head + strings.Repeat("a,b\n", exchange.MaxRows+1), "100000 rows"},
		"no town":    {"Address,Postcode\n1 Elm Row,AB1 2DE\n", "Town"},
	} {
		if _, _, err := read(t, c.text); records.KindOf(err) != records.Invalid || err == nil ||
			!strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := exchange.OpenTable(io.NewSectionReader(zeros{}, 0, exchange.MaxFile+1)); err == nil ||
		!strings.Contains(err.Error(), "20 MB") {
		t.Errorf("too large: %v", err)
	}
}

type zeros struct{}

func (zeros) ReadAt(p []byte, _ int64) (int, error) { return len(p), nil }

func TestDates(t *testing.T) {
	for name, c := range map[string]struct {
		cells []string
		order string
		bad   string
	}{
		"iso":         {[]string{"2025-04-03", "2025-04-03 00:00:00"}, "year, month, day", ""},
		"day first":   {[]string{"03/04/2025", "13/04/2025"}, "day, month, year", ""},
		"dots":        {[]string{"13.4.2025"}, "day, month, year", ""},
		"unproved":    {[]string{"03/04/2025"}, "assumed", ""},
		"mixed":       {[]string{"2025-04-03", "03/04/2025"}, "", "row 2 begins with the year, row 3 does not"},
		"month first": {[]string{"04/13/2025"}, "", "row 2 has the month first"},
		"both":        {[]string{"13/04/2025", "04/13/2025"}, "", "row 2 has the day first, row 3 the month"},
		"none":        {[]string{"", "soon"}, "", ""},
	} {
		var d exchange.Dates
		for i, cell := range c.cells {
			d.Add(i+2, cell)
		}
		err := d.Check()
		if (err == nil) != (c.bad == "") || err != nil && !strings.Contains(err.Error(), c.bad) {
			t.Errorf("%s: %v", name, err)
		}
		if err == nil && !strings.Contains(d.Order(), c.order) {
			t.Errorf("%s: order %q", name, d.Order())
		}
	}
}

func TestMappingCheck(t *testing.T) {
	full := func() exchange.Mapping {
		return exchange.Mapping{Column: map[exchange.Target]int{exchange.Line1: 0, exchange.Town: 1,
			exchange.Postcode: 2}, Default: map[exchange.Target]string{exchange.Nation: "Wales",
			exchange.Kind: records.KindFire}}
	}
	if err := full().Check(3); err != nil {
		t.Error(err)
	}
	for name, change := range map[string]func(exchange.Mapping){
		"town":     func(m exchange.Mapping) { delete(m.Column, exchange.Town) },
		"nation":   func(m exchange.Mapping) { delete(m.Default, exchange.Nation) },
		"beyond":   func(m exchange.Mapping) { m.Column[exchange.Town] = 3 },
		"negative": func(m exchange.Mapping) { m.Column[exchange.Town] = -1 },
		"twice":    func(m exchange.Mapping) { m.Column[exchange.Town] = 0 },
		"stand":    func(m exchange.Mapping) { m.Default[exchange.Nation] = "Atlantis" },
	} {
		m := full()
		change(m)
		if err := m.Check(3); records.KindOf(err) != records.Invalid || err == nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func FuzzTable(f *testing.F) {
	f.Add([]byte("Address,Town,Postcode\n1 Elm Row,Upham,AB1 2DE\n"))
	f.Add([]byte("\ufeffAddress;Town;Postcode;Last service\r\n\"1;\n Elm\";Upham;AB1 2DE;03/04/2025\r\n"))
	f.Add([]byte("\xff\xfea\x00,\x00b\x00\n\x00"))
	f.Add([]byte("a\tb\n\"\"\"\t\xc9"))
	f.Fuzz(func(t *testing.T, data []byte) {
		table, err := exchange.OpenTable(bytes.NewReader(data))
		if err != nil {
			if records.KindOf(err) != records.Invalid {
				t.Fatalf("%v is of kind %s", err, records.KindOf(err))
			}
			return
		}
		m := exchange.Mapping{Column: map[exchange.Target]int{},
			Default: map[exchange.Target]string{exchange.Nation: "England", exchange.Kind: records.KindFire}}
		for i, info := range exchange.Targets {
			if i < len(table.Header) {
				m.Column[info.Target] = i
			}
		}
		r, last := exchange.NewReader(table, m, today), 1
		for {
			item, bad, err := r.Next()
			if errors.Is(err, io.EOF) {
				return
			}
			if err != nil {
				if records.KindOf(err) != records.Invalid {
					t.Fatalf("%v is of kind %s", err, records.KindOf(err))
				}
				return
			}
			if item.Row < last {
				t.Fatalf("row %d after row %d", item.Row, last)
			}
			last = item.Row
			if len(bad) == 0 {
				if _, err := item.Property.Checked(); err != nil {
					t.Fatalf("accepted %+v: %v", item.Property, err)
				}
			}
		}
	})
}
