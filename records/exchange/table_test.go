package exchange_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"os"
	"strings"
	"testing"
	"testing/iotest"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"pgregory.net/rapid"

	"gaugebook/records"
	"gaugebook/records/exchange"
)

type tableRow struct {
	number int
	cells  []string
}

// readTable reads all rows of a list below its heading.
func readTable(t testing.TB, data []byte) (*exchange.Table, []tableRow) {
	t.Helper()
	table, err := exchange.OpenTable(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	var out []tableRow
	for {
		n, cells, err := table.Next()
		if errors.Is(err, io.EOF) {
			return table, out
		}
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, tableRow{n, cells})
	}
}

// Rows are numbered as a spreadsheet program shows them, so that the office
// finds the row that was refused: blank rows count, line ends inside a cell do
// not.
func TestRowNumbers(t *testing.T) {
	_, rows := readTable(t, []byte("a,b\n1,x\n\n , \n2,\"two\nlines\"\n3,x\n\n4,\"a\n\nb\"\n5,x\n"))
	want := map[string]int{"1": 2, "2": 5, "3": 6, "4": 8, "5": 9}
	if len(rows) != len(want) {
		t.Fatalf("%d rows", len(rows))
	}
	for _, r := range rows {
		if r.number != want[r.cells[0]] {
			t.Errorf("row %s is counted as %d, want %d", r.cells[0], r.number, want[r.cells[0]])
		}
	}
}

// The delimiter is whichever cuts the first rows alike; text between quotes is
// no help to it.
func TestDelimiters(t *testing.T) {
	for name, c := range map[string]struct {
		text  string
		want  rune
		cells int
	}{
		"comma":                    {"a,b,c\n1,2,3\n", ',', 3},
		"semicolon":                {"a;b;c\n1;2;3\n", ';', 3},
		"tab":                      {"a\tb\tc\n1\t2\t3\n", '\t', 3},
		"bar":                      {"a|b|c\n1|2|3\n", '|', 3},
		"commas inside semicolons": {"a;b\n1,5;2,5\n2,5;3,5\n", ';', 2},
		"semicolons inside commas": {"a,b\n\"1;2\",3\n\"4;5\",6\n", ',', 2},
		"commas in quotes":         {"address;town\n\"1, Elm Row, Lea\";Upham\n\"2, Elm Row\";Upham\n", ';', 2},
		"one column, then two":     {"a,b\n1\n2,3\n4,5\n", ',', 2},
		"lines ended by CR LF":     {"a,b\r\n1,2\r\n", ',', 2},
	} {
		table, rows := readTable(t, []byte(c.text))
		if table.Delimiter != c.want || len(table.Header) != c.cells || len(rows) == 0 {
			t.Errorf("%s: %q, heading %q, %d rows", name, table.Delimiter, table.Header, len(rows))
		}
	}
}

// The same words in every encoding that spreadsheet programs write.
func TestEncodings(t *testing.T) {
	const text = "Contact,Town\nMałgorzata Żurawska,Ŵyn’s Court\nZoë,Brontë\n"
	const western = "Contact,Town\nZoë,Brontë – “The Court”\n"
	encode := func(e interface{ Bytes([]byte) ([]byte, error) }, s string) []byte {
		out, err := e.Bytes([]byte(s))
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	for name, c := range map[string]struct {
		data []byte
		text string
		want string
	}{
		"UTF-8":           {[]byte(text), text, "UTF-8"},
		"UTF-8 with mark": {[]byte("\ufeff" + text), text, "UTF-8"},
		"UTF-16, small end first": {encode(unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder(), text),
			text, "UTF-16"},
		"UTF-16, large end first": {encode(unicode.UTF16(unicode.BigEndian, unicode.UseBOM).NewEncoder(), text),
			text, "UTF-16"},
		"Windows-1252":                {encode(charmap.Windows1252.NewEncoder(), western), western, "Windows-1252"},
		"plain ASCII, taken as UTF-8": {[]byte("a,b\n1,2\n"), "a,b\n1,2\n", "UTF-8"},
	} {
		table, rows := readTable(t, c.data)
		want, err := csv.NewReader(strings.NewReader(c.text)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if table.Encoding != c.want || strings.Join(table.Header, "|") != strings.Join(want[0], "|") ||
			len(rows) != len(want)-1 {
			t.Errorf("%s: %s, heading %q, %d rows", name, table.Encoding, table.Header, len(rows))
			continue
		}
		for i, r := range rows {
			if strings.Join(r.cells, "|") != strings.Join(want[i+1], "|") {
				t.Errorf("%s, row %d: %q, want %q", name, r.number, r.cells, want[i+1])
			}
		}
	}
}

// Whatever cells a list holds, they come back as they were written, in order,
// from any of the delimiters.
func TestCellsComeBack(t *testing.T) {
	cell := rapid.SampledFrom([]string{"", "x", "1, Elm Row", "a;b", "a|b", "tab\there", "\"quoted\"", "two\nlines",
		"é’–", " spaced ", "=1+1", "'s-Gravenhof", strings.Repeat("z", 300)})
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(2, 6).Draw(t, "columns")
		line := rapid.SliceOfN(cell, width, width)
		want := [][]string{make([]string, width)}
		for i := range want[0] {
			want[0][i] = "column " + string(rune('a'+i))
		}
		for range rapid.IntRange(1, 8).Draw(t, "rows") {
			if cells := line.Draw(t, "cells"); strings.TrimSpace(strings.Join(cells, "")) != "" {
				want = append(want, cells)
			}
		}
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		w.UseCRLF = rapid.Bool().Draw(t, "CR LF")
		if err := w.WriteAll(want); err != nil {
			t.Fatal(err)
		}
		table, err := exchange.OpenTable(bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		if table.Delimiter != ',' { // a list of few rows may be cut by another one as evenly
			t.Skip("cut by another delimiter")
		}
		for i, cells := range want[1:] {
			_, got, err := table.Next()
			if err != nil || strings.Join(got, "\x00") != strings.ReplaceAll(strings.Join(cells, "\x00"), "\r\n",
				"\n") {
				t.Fatalf("row %d: %q, want %q, %v", i, got, cells, err)
			}
		}
		if _, _, err := table.Next(); !errors.Is(err, io.EOF) {
			t.Fatalf("after the last row: %v", err)
		}
	})
}

// A quoted cell that is not closed is refused where it is met, with its line;
// what came before has been read.
func TestBrokenInTheMiddle(t *testing.T) {
	table, err := exchange.OpenTable(strings.NewReader("a,b\n1,x\n2,\"open\n3,x\n"))
	if err != nil {
		t.Fatal(err)
	}
	if n, cells, err := table.Next(); err != nil || n != 2 || cells[0] != "1" {
		t.Fatalf("%d, %q, %v", n, cells, err)
	}
	_, _, err = table.Next()
	if records.KindOf(err) != records.Invalid || !strings.Contains(err.Error(), "quote") {
		t.Errorf("%v", err)
	}
}

// A disk that fails is no fault of the list: the error is not Invalid.
func TestDiskFails(t *testing.T) {
	broken := failing{Reader: strings.NewReader("a,b\n1,2\n")}
	_, err := exchange.OpenTable(&broken)
	if err == nil || records.KindOf(err) != records.Internal {
		t.Errorf("%v", err)
	}
}

// failing is a file that can be measured but not read.
type failing struct{ *strings.Reader }

func (f *failing) Read([]byte) (int, error) { return 0, iotest.ErrTimeout }

// A real file on disk is read like one in memory.
func TestTableFromFile(t *testing.T) {
	name := t.TempDir() + "/list.csv"
	if err := os.WriteFile(name, []byte("\ufeffAddress;Town\r\n1 Elm Row;Upham\r\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	file, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	table, err := exchange.OpenTable(file)
	if err != nil || table.Header[0] != "Address" || table.Delimiter != ';' {
		t.Fatalf("%+v, %v", table, err)
	}
	if n, cells, err := table.Next(); n != 2 || err != nil || cells[1] != "Upham" {
		t.Errorf("%d %q %v", n, cells, err)
	}
}
