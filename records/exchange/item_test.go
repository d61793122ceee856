package exchange_test

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gaugebook/records"
	"gaugebook/records/exchange"
)

// Words of a heading as lists of offices have them (common practice, no
// published source), and what each is taken for.
func TestGuess(t *testing.T) {
	for name, c := range map[string]struct {
		header []string
		want   map[exchange.Target]int
	}{
		"in capitals and with signs": {[]string{"ADDRESS LINE 1", "Post-Code", "E-Mail address"},
			map[exchange.Target]int{exchange.Line1: 0, exchange.Postcode: 1, exchange.Email: 2}},
		"town by another word": {[]string{"Street", "Post town", "Postal code"},
			map[exchange.Target]int{exchange.Line1: 0, exchange.Town: 1, exchange.Postcode: 2}},
		"the better word wins":  {[]string{"Address", "Address line 1"}, map[exchange.Target]int{exchange.Line1: 1}},
		"a column is used once": {[]string{"Owner", "Name"}, map[exchange.Target]int{exchange.Name: 1}},
		"appliance": {[]string{"Boiler make", "Boiler model", "Serial no.", "Boiler type", "Fuel type", "Room",
			"Last serviced"}, map[exchange.Target]int{exchange.Make: 0, exchange.Model: 1, exchange.Serial: 2,
			exchange.Kind: 3, exchange.Fuel: 4, exchange.Location: 5, exchange.LastService: 6}},
		"nothing that is known": {[]string{"Ref", "Colour", ""}, map[exchange.Target]int{}},
		"the same word twice":   {[]string{"Town", "Town"}, map[exchange.Target]int{exchange.Town: 0}},
		"nothing":               {nil, map[exchange.Target]int{}},
	} {
		got := exchange.Guess(c.header)
		if fmt.Sprint(got) != fmt.Sprint(c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}

// Every target is guessed from its own label or from the heading that an
// export gives it, so a list that went out finds its columns again.
func TestGuessKnowsTheExport(t *testing.T) {
	table, err := exchange.OpenTable(bytes.NewReader(write(t, exchange.NewCSV, sample(1))))
	if err != nil {
		t.Fatal(err)
	}
	got := exchange.Guess(table.Header)
	for _, info := range exchange.Targets {
		col, ok := got[info.Target]
		switch info.Target {
		case exchange.Address, exchange.LastService: // not in an export
			if ok {
				t.Errorf("%s is taken from %q", info.Target, table.Header[col])
			}
		default:
			if !ok {
				t.Errorf("%s is not found among %q", info.Target, table.Header)
			}
		}
		if found, ok := exchange.Info(info.Target); !ok || found.Label != info.Label {
			t.Errorf("%s is described as %q", info.Target, found.Label)
		}
	}
	if _, ok := exchange.Info("colour"); ok {
		t.Error("an unknown target is described")
	}
}

func TestMappingNamesTheFault(t *testing.T) {
	good := func() exchange.Mapping {
		return exchange.Mapping{Column: map[exchange.Target]int{exchange.Line1: 0, exchange.Town: 1,
			exchange.Postcode: 2, exchange.Kind: 3, exchange.Nation: 4}, Default: map[exchange.Target]string{}}
	}
	for name, c := range map[string]struct {
		edit        func(exchange.Mapping)
		field, says string
	}{
		"as it is":            {func(exchange.Mapping) {}, "", ""},
		"an optional one too": {func(m exchange.Mapping) { m.Column[exchange.Email] = 5 }, "", ""},
		"column and default":  {func(m exchange.Mapping) { m.Default[exchange.Nation] = "Wales" }, "", ""},
		"no postcode": {func(m exchange.Mapping) {
			delete(m.Column, exchange.Postcode)
		}, "postcode", "Postcode: give the column that holds it"},
		"no kind": {func(m exchange.Mapping) { delete(m.Column, exchange.Kind) }, "kind",
			"give the column that holds it, or one value for all rows"},
		"beyond the list": {func(m exchange.Mapping) {
			m.Column[exchange.Town] = 6
		}, "town", "the list has no such column"},
		"used twice": {func(m exchange.Mapping) {
			m.Column[exchange.Town] = 0
		}, "town", "already used for “First line of the address”"},
		"default that cannot be": {func(m exchange.Mapping) { m.Default[exchange.Tenure] = "squire" }, "tenure",
			"“squire” cannot be used for it"},
		"default of a text": {func(m exchange.Mapping) {
			m.Default[exchange.Town] = "Upham"
		}, "town", "cannot be used"},
	} {
		m := good()
		c.edit(m)
		err := m.Check(6)
		var es records.Errors
		if c.field == "" {
			if err != nil {
				t.Errorf("%s: %v", name, err)
			}
		} else if !errors.As(err, &es) || len(es) != 1 || es[0].Field != c.field ||
			!strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %s: %s", name, err, c.field, c.says)
		}
	}
}

// The words of the trade for a kind, a fuel, a nation and a tenure, as lists
// have them, are taken for the code that they mean.
func TestWordsForChoices(t *testing.T) {
	for _, c := range []struct {
		column, cell string
		got          func(exchange.Item) string
		want         string
	}{
		{"Kind", "Combi", kindOf, records.KindCombination},
		{"Kind", "combi boiler", kindOf, records.KindCombination},
		{"Kind", "Combination boiler", kindOf, records.KindCombination},
		{"Kind", "boiler-combination", kindOf, records.KindCombination},
		{"Kind", "Heat only", kindOf, records.KindRegular},
		{"Kind", "REGULAR", kindOf, records.KindRegular},
		{"Kind", "Gas fire", kindOf, records.KindFire},
		{"Kind", "gas cooker", kindOf, records.KindCooker},
		{"Kind", "", kindOf, records.KindSystem}, // the default of these tests
		{"Fuel", "NG", fuelOf, records.FuelNatural},
		{"Fuel", "Natural gas", fuelOf, records.FuelNatural},
		{"Fuel", "Mains gas", fuelOf, records.FuelNatural},
		{"Fuel", "Propane (LPG)", fuelOf, records.FuelPropane},
		{"Fuel", "butane", fuelOf, records.FuelButane},
		{"Fuel", "", fuelOf, ""},
		{"Nation", "NI", func(i exchange.Item) string { return string(i.Property.Nation) }, "Northern Ireland"},
		{"Nation", "northern ireland", func(i exchange.Item) string { return string(i.Property.Nation) },
			"Northern Ireland"},
		{"Nation", "", func(i exchange.Item) string { return string(i.Property.Nation) }, "England"},
		{"Tenure", "Letting agent", tenureOf, string(records.Agent)},
		{"Tenure", "Home owner", tenureOf, string(records.OwnerOccupier)},
		{"Tenure", "landlord", tenureOf, string(records.Landlord)},
		{"Tenure", "", tenureOf, "owner-occupier"},
	} {
		items, bad, err := read(t, "Address,Town,Postcode,Contact,"+c.column+"\n1 Elm Row,Upham,AB1 2DE,A Person,"+
			c.cell+
			"\n")
		if err != nil || len(bad) > 0 || len(items) != 1 {
			t.Errorf("%s %q: %v, %v", c.column, c.cell, bad, err)
		} else if got := c.got(items[0]); got != c.want {
			t.Errorf("%s %q is taken for %q, want %q", c.column, c.cell, got, c.want)
		}
	}
}

func kindOf(i exchange.Item) string   { return i.Values.Choice(records.ApplianceKind) }
func fuelOf(i exchange.Item) string   { return i.Values.Choice(records.ApplianceFuel) }
func tenureOf(i exchange.Item) string { return string(i.Contact.Tenure) }

// A row that cannot be taken names row, column and reason for each cell, and
// each fault once: the office puts a list right in one go.
func TestRowNamesEveryFault(t *testing.T) {
	_, bad, err := read(t, "Address,Town,Post code,Nation,Kind,Make,Tenure,Contact,Last service\n"+
		",Upham,nonsense,Atlantis,rocket,"+strings.Repeat("x", 61)+",squire,A Person,31/02/2025\n")
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"row 2, column “Address”: this cannot be left blank", "row 2, column “Nation”: “Atlantis”",
		"row 2, column “Post code”: “nonsense”", "row 2, column “Tenure”: “squire”",
		"row 2, column “Make”: 61 characters",
		"row 2, column “Kind”: “rocket”", "row 2, column “Last service”: “31/02/2025”"}
	var got []string
	for _, e := range bad {
		got = append(got, e.Error())
		if records.KindOf(e) != records.Invalid || e.Row != 2 {
			t.Errorf("%v is of kind %s", e, records.KindOf(e))
		}
	}
	for _, w := range want {
		if !slices.ContainsFunc(got, func(s string) bool { return strings.HasPrefix(s, w) }) {
			t.Errorf("no %q among %q", w, got)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d faults, want %d: %q", len(got), len(want), got)
	}
}

// A contact is taken whole or not at all, and needs a name as soon as anything
// is known of it.
func TestContactOfARow(t *testing.T) {
	head := "Address,Town,Postcode,Contact,E-mail,Telephone,Contact address\n1 Elm Row,Upham,AB1 2DE,"
	items, bad, err := read(t, head+",,,\n")
	if err != nil || len(bad) > 0 || items[0].Contact != (records.Contact{}) {
		t.Errorf("nobody: %+v, %v, %v", items, bad, err)
	}
	items, bad, err = read(t, head+"A Person,a@home.example,01632 960 000,9 Quay Street\n")
	want := records.Contact{Name: "A Person", Email: "a@home.example", Phone: "01632 960 000", Address: "9 Quay Street",
		Tenure: records.OwnerOccupier}
	if err != nil || len(bad) > 0 || items[0].Contact != want {
		t.Errorf("%+v, %v, %v", items, bad, err)
	}
	_, bad, err = read(t, head+",a@home.example,,\n")
	if err != nil || len(bad) != 1 || bad[0].Column != "Contact" {
		t.Errorf("an address without a name: %v, %v", bad, err)
	}
}

// The duty that follows from the last service says where its date comes from;
// a list without one gives none.
func TestDutyOfARow(t *testing.T) {
	items, bad, err := read(t, "Address,Town,Postcode,Last service\n1 Elm Row,Upham,AB1 2DE,13/04/2026\n"+
		"2 Elm Row,Upham,AB1 2DE,\n")
	if err != nil || len(bad) > 0 || len(items) != 2 {
		t.Fatalf("%v, %v", bad, err)
	}
	d, ok := items[0].Duty()
	if !ok || d.Kind != records.AnnualService || d.Due != records.MustDate("2027-04-13") ||
		!strings.Contains(d.Why, "imported list") || d.Source.Document == "" {
		t.Errorf("%+v, %v", d, ok)
	}
	if d, ok := items[1].Duty(); ok {
		t.Errorf("without a date: %+v", d)
	}
}

// The bounds of a date: today is the last day, forty years ago the first, and
// a day that the calendar lacks is none.
func TestDatesOfARow(t *testing.T) {
	for cell, want := range map[string]string{
		"25/11/2026": "2026-11-25", "2026-11-25": "2026-11-25", "26/11/2026": "", "25/11/1986": "1986-11-25",
		"24/11/1986": "", "29/02/2024": "2024-02-29", "29/02/2023": "", "31.12.2025": "2025-12-31",
		"1/2/2026":             "2026-02-01",
		"2026-11-25T00:00:00Z": "2026-11-25", "2026-11-25 00:00:00.000": "2026-11-25", "2026-11-25 14:05": "",
		"25/11/2026 00:00": "2026-11-25", "13/13/2025": "", "00/01/2026": "", "soon": "", "2026": "", "45000": "",
	} {
		items, bad, err := read(t, "Address,Town,Postcode,Last service\n1 Elm Row,Upham,AB1 2DE,"+cell+"\n")
		if err != nil {
			t.Errorf("%q: %v", cell, err)
			continue
		}
		if want == "" {
			if len(bad) != 1 || bad[0].Column != "Last service" || !strings.Contains(bad[0].Error(), "“"+cell+"”") {
				t.Errorf("%q is taken: %v", cell, bad)
			}
		} else if len(bad) > 0 || items[0].LastService.String() != want {
			t.Errorf("%q is %v, want %s: %v", cell, items, want, bad)
		}
	}
}

// Scan finds the order of a list's dates wherever the proving one stands, and
// its length.
func TestScan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 30).Draw(t, "rows")
		proof := rapid.IntRange(0, n-1).Draw(t, "proof")
		var b strings.Builder
		b.WriteString("Address,Last service\n")
		for i := range n {
			cell := "03/04/2025"
			if i == proof {
				cell = "'13/04/2025" // guarded, as an export may have it
			}
			fmt.Fprintf(&b, "%d Elm Row,%s\n", i, strings.TrimPrefix(cell, "'"))
		}
		table, err := exchange.OpenTable(strings.NewReader(b.String()))
		if err != nil {
			t.Fatal(err)
		}
		rows, dates, err := exchange.Scan(table, exchange.Mapping{Column: exchange.Guess(table.Header)})
		if err != nil || rows != n || dates.Check() != nil || dates.Order() != "day, month, year" {
			t.Fatalf("%d rows, %q, %v", rows, dates.Order(), err)
		}
	})
	table, err := exchange.OpenTable(strings.NewReader("Address,Town\n1 Elm Row,\"open\n"))
	if err == nil {
		_, _, err = exchange.Scan(table, exchange.Mapping{})
	}
	if records.KindOf(err) != records.Invalid {
		t.Errorf("a broken list: %v", err)
	}
	table, err = exchange.OpenTable(strings.NewReader("Address,Town\n1 Elm Row,Upham\n"))
	if err != nil {
		t.Fatal(err)
	}
	if rows, dates, err := exchange.Scan(table, exchange.Mapping{}); rows != 1 || dates.Order() != "" || err != nil {
		t.Errorf("without dates: %d, %q, %v", rows, dates.Order(), err)
	}
}
