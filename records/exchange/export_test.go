package exchange

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gaugebook/records"
)

// full is a disk that takes only so many bytes.
type full struct{ left int }

var errFull = errors.New("disk full")

func (f *full) Write(p []byte) (int, error) {
	if f.left -= len(p); f.left < 0 {
		return 0, errFull
	}
	return len(p), nil
}

// A disk that fills up is told of, at the latest when the list is closed: a
// cut-off list must not pass for a whole one.
func TestDiskFull(t *testing.T) {
	for name, open := range map[string]func(io.Writer) (LineWriter, error){"CSV": NewCSV, "workbook": NewWorkbook} {
		for _, room := range []int{0, 2, 100, 3000} {
			w, err := open(&full{left: room})
			for range 50 {
				if err != nil {
					break
				}
				err = w.Write(Line{Property: records.Property{Line1: strings.Repeat("x", 100)}})
			}
			if err == nil {
				err = w.Close()
			}
			if !errors.Is(err, errFull) {
				t.Errorf("%s with room for %d bytes: %v", name, room, err)
			}
		}
	}
}

// A sheet ends at 1,048,576 rows; one more is refused by name instead of a
// file that spreadsheet programs cannot open. Source: ECMA-376, Office Open
// XML File Formats, as spreadsheet programs apply it.
func TestSheetIsFull(t *testing.T) {
	w, err := NewWorkbook(io.Discard)
	if err != nil {
		t.Fatal(err)
	}
	b := w.(*workbook)
	defer b.file.Close()
	b.row = WorkbookRows // the heading is row 1
	if err := w.Write(Line{}); err != nil {
		t.Errorf("row 1,048,576: %v", err)
	}
	err = w.Write(Line{})
	if records.KindOf(err) != records.Invalid || !strings.Contains(err.Error(), "1048575 lines") ||
		!strings.Contains(err.Error(), "CSV") {
		t.Errorf("one more: %v", err)
	}
}

// A list opens in a spreadsheet program as it is: a byte order mark so that it
// is taken for UTF-8, CR LF, and every column named once.
func TestCSVIsForSpreadsheets(t *testing.T) {
	var b bytes.Buffer
	w, err := NewCSV(&b)
	if err != nil {
		t.Fatal(err)
	}
	line := Line{Property: records.Property{Line1: "1 Elm Row", Nation: records.Wales},
		Due:    records.MustDate("2027-02-01"),
		Values: records.Values{}}
	if err := errors.Join(w.Write(line), w.Write(Line{}), w.Close()); err != nil {
		t.Fatal(err)
	}
	text, marked := strings.CutPrefix(b.String(), "\ufeff")
	if !marked || strings.Count(text, "\r\n") != 3 || strings.Count(text, "\n") != 3 {
		t.Errorf("%q", b.String())
	}
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(rows) != 3 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	heads := map[string]string{}
	for i, head := range rows[0] {
		if _, twice := heads[head]; twice || head == "" {
			t.Errorf("column %d is named %q", i+1, head)
		}
		heads[head] = rows[1][i]
		if rows[2][i] != "" {
			t.Errorf("a blank line holds %q under %s", rows[2][i], head)
		}
	}
	if heads["Address line 1"] != "1 Elm Row" || heads["Nation"] != "Wales" || heads["Due"] != "2027-02-01" ||
		heads["Work date"] != "" || heads["Kind of appliance"] != "" {
		t.Errorf("%v", heads)
	}
}

// A choice that was stored by an older version, and is no longer offered, goes
// out as it was written, not blank.
func TestOldChoiceGoesOut(t *testing.T) {
	vs, err := records.DecodeStoredValues([]byte(`{"appliance":{"fuel":"town-gas","kind":"` + records.KindFire + `"}}`))
	if err != nil {
		t.Fatal(err)
	}
	if got := label(records.ApplianceFuel, vs); got != "town-gas" {
		t.Errorf("%q", got)
	}
	if got := label(records.ApplianceKind, vs); got != "Gas fire" {
		t.Errorf("%q", got)
	}
}

// No text gets out as a formula, and every text comes back as it was.
func FuzzGuard(f *testing.F) {
	for _, s := range []string{"", "'", "=1+1", "'=1+1", "''=1", "  =x", "-5", "- 5", "+44 1632", "@", "\t", "\r\n=",
		"é=",
		"'s-Gravenhof", "'-5", "-5.2.5", " -5"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		out := Guard(s)
		if Unguard(out) != s {
			t.Fatalf("%q goes out as %q and comes back as %q", s, out, Unguard(out))
		}
		first := strings.TrimLeft(out, " ")
		if first == "" || plainNumber.MatchString(out) {
			return
		}
		if strings.ContainsRune(formulaStarts, rune(first[0])) {
			t.Fatalf("%q goes out as %q, which a spreadsheet program runs", s, out)
		}
	})
}

// A date is the same number of days on from 30 December 1899 wherever it is
// counted, as the format counts days. Source: ECMA-376 part 1, 18.17.4.1.
func TestSerialDays(t *testing.T) {
	for date, want := range map[string]int{"1900-03-01": 61, "2000-01-01": 36526, "2028-02-29": 46812,
		"2028-03-01": 46813} {
		if got := serialDay(records.MustDate(date)); got != want {
			t.Errorf("%s is day %d, want %d", date, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		d := records.MustDate("1900-03-01").AddDays(rapid.IntRange(0, 100000).Draw(t, "days"))
		if serialDay(d.AddDays(1)) != serialDay(d)+1 {
			t.Fatalf("the day after %s is not the next number", d)
		}
	})
}

// Headings are compared by their letters and digits alone.
func TestPlain(t *testing.T) {
	for in, want := range map[string]string{"Post-Code": "postcode", "E-Mail address": "emailaddress",
		"Serial no.": "serialno",
		" Straße 2 ": "straße2", "ÉCOLE": "école", "": "", "—": ""} {
		if got := plain(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
	for _, info := range Targets {
		for _, word := range info.words {
			if plain(word) != word {
				t.Errorf("%s: %q can never fit a heading", info.Target, word)
			}
		}
		for word, code := range alsoCalled[info.Target] {
			known := false
			for _, c := range info.Choices {
				known = known || c.Code == code
			}
			if plain(word) != word || !known {
				t.Errorf("%s: %q means %q, which is not offered", info.Target, word, code)
			}
		}
	}
}
