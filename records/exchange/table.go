package exchange

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"gaugebook/records"
)

// The most that a list may hold.
const (
	MaxFile    = 20 << 20 // bytes
	MaxRows    = 100_000
	MaxColumns = 200
	MaxCell    = 10_000 // characters
)

// Table is a list being read.
type Table struct {
	Header    []string
	Delimiter rune
	// Encoding is UTF-8, UTF-16, or Windows-1252 for a file that is neither.
	Encoding string

	csv    *csv.Reader
	rows   int // read so far, the heading among them
	within int // line ends inside cells so far
}

// OpenTable reads the heading of a CSV file. A byte order mark is taken off,
// the delimiter is whichever of comma, semicolon, tab and bar cuts the first
// lines most evenly. A workbook, an empty file and one without a heading of
// at least two columns are Invalid.
//
// Workbooks are refused on purpose: the library that writes them has had a
// number of advisories about reading hostile ones, and every spreadsheet program
// can save CSV.
func OpenTable(file io.ReadSeeker) (*Table, error) {
	t := &Table{}
	decoded, err := t.decode(file)
	if err != nil {
		return nil, err
	}
	buffered := bufio.NewReaderSize(decoded, 64<<10)
	head, err := buffered.Peek(64 << 10)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("reading the list: %w", err)
	}
	t.Delimiter = sniff(head)
	t.csv = reader(buffered, t.Delimiter)
	for {
		_, cells, err := t.Next()
		if errors.Is(err, io.EOF) {
			return nil, refuseFile("the file is empty", "a heading and a row for each appliance")
		}
		if err != nil {
			return nil, err
		}
		if strings.Join(cells, "") == "" {
			continue
		}
		t.Header = cells
		break
	}
	if len(t.Header) < 2 {
		return nil, refuseFile("only one column was found",
			"columns separated by comma, semicolon, tab or |, with their names in the first row")
	}
	return t, nil
}

func refuseFile(msg, want string) error {
	return &records.Error{Kind: records.Invalid, Field: "file", Label: "List", Msg: msg, Want: want}
}

// Next returns the next row that is not blank in every column, and its number as a
// spreadsheet program counts it, the heading being 1. At the end it returns
// io.EOF. Any other error is Invalid and ends the reading.
func (t *Table) Next() (row int, cells []string, err error) {
	for {
		cells, err = t.csv.Read()
		if errors.Is(err, io.EOF) {
			return 0, nil, io.EOF
		}
		var parse *csv.ParseError
		if errors.As(err, &parse) {
			return 0, nil, refuseFile(fmt.Sprintf("line %d, column %d: %v", parse.Line, parse.Column, parse.Err),
				"a quoted cell closed by a quote, quotes inside it doubled")
		}
		if err != nil {
			return 0, nil, fmt.Errorf("reading the list: %w", err)
		}
		line, _ := t.csv.FieldPos(0)
		row = line - t.within
		for i, c := range cells {
			t.within += strings.Count(c, "\n")
			if utf8.RuneCountInString(c) > MaxCell {
				return 0, nil, refuseFile(fmt.Sprintf("row %d, column %d holds more than %d characters", row, i+1,
					MaxCell), "shorter cells")
			}
		}
		if len(cells) > MaxColumns {
			return 0, nil, refuseFile(fmt.Sprintf("row %d has %d columns", row, len(cells)),
				fmt.Sprintf("at most %d", MaxColumns))
		}
		if strings.TrimSpace(strings.Join(cells, "")) == "" {
			continue
		}
		if t.rows++; t.rows > MaxRows+1 {
			return 0, nil, refuseFile(fmt.Sprintf("more than %d rows", MaxRows), "the list split into parts")
		}
		return row, cells, nil
	}
}

func reader(r io.Reader, delimiter rune) *csv.Reader {
	c := csv.NewReader(r)
	c.Comma, c.FieldsPerRecord = delimiter, -1
	return c
}

// decode looks at the whole file once: is it text, how large, in UTF-8 or not.
func (t *Table) decode(file io.ReadSeeker) (io.Reader, error) {
	size, err := file.Seek(0, io.SeekEnd)
	if err != nil {
		return nil, err
	}
	if size > MaxFile {
		return nil, refuseFile("the file is too large", fmt.Sprintf("at most %d MB", MaxFile>>20))
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	head := make([]byte, 8)
	n, err := io.ReadFull(file, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("reading the list: %w", err)
	}
	head = head[:n]
	if bytes.HasPrefix(head, []byte("PK\x03\x04")) || bytes.HasPrefix(head, []byte("\xd0\xcf\x11\xe0")) {
		return nil, refuseFile("this is a workbook; only CSV files are read",
			"the sheet saved as CSV (in the spreadsheet program: Save as, CSV UTF-8)")
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	if bytes.HasPrefix(head, []byte("\xff\xfe")) || bytes.HasPrefix(head, []byte("\xfe\xff")) {
		t.Encoding = "UTF-16"
		return transform.NewReader(file, unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM).NewDecoder()), nil
	}
	valid, err := validText(file)
	if err != nil {
		return nil, err
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	if !valid {
		t.Encoding = "Windows-1252"
		return transform.NewReader(file, charmap.Windows1252.NewDecoder()), nil
	}
	t.Encoding = "UTF-8"
	return transform.NewReader(file, unicode.BOMOverride(transform.Nop)), nil
}

// validText reports whether the file is UTF-8. A file with a zero byte is no
// text at all.
func validText(r io.Reader) (valid bool, err error) {
	b, valid := bufio.NewReaderSize(r, 64<<10), true
	for {
		c, size, err := b.ReadRune()
		if errors.Is(err, io.EOF) {
			return valid, nil
		}
		if err != nil {
			return false, fmt.Errorf("reading the list: %w", err)
		}
		if c == 0 {
			return false, refuseFile("the file is not text", "the sheet saved as CSV")
		}
		valid = valid && (c != utf8.RuneError || size > 1)
	}
}

// sniff chooses the delimiter that cuts the first rows into the same number
// of cells most often, and into most cells among those.
func sniff(head []byte) rune {
	best, bestScore := ',', 0
	for _, d := range ",;\t|" {
		c := reader(bytes.NewReader(head), d)
		c.LazyQuotes = true
		count, rows := map[int]int{}, 0
		for rows < 20 {
			cells, err := c.Read()
			if err != nil {
				break
			}
			rows++
			count[len(cells)]++
		}
		for cells, times := range count {
			if score := times*1000/max(rows, 1)*10 + min(cells, 9); cells > 1 && score > bestScore {
				best, bestScore = d, score
			}
		}
	}
	return best
}

// ended returns nil for the end of a list.
func ended(err error) error {
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}
