package seal

import (
	"bytes"
	"compress/zlib"
	"errors"
	"fmt"
	"io"
)

// file is a PDF with classic cross-reference tables, as gopdf and [Finish]
// write it.
type file struct {
	b       []byte
	offsets map[int]int // of objects
	trailer dict        // the newest
	last    int         // offset of the newest table
}

// maxUpdates bounds the chain of cross-reference tables.
const maxUpdates = 16

func parse(b []byte) (*file, error) {
	if !bytes.HasPrefix(b, []byte("%PDF-")) {
		return nil, errors.New("seal: not a PDF: it does not start with %PDF-")
	}
	tail := bytes.LastIndex(b, []byte("startxref"))
	if tail < 0 {
		return nil, errors.New("seal: PDF without startxref: it is cut short")
	}
	l := &lexer{b, tail + len("startxref")}
	at, ok := l.integer()
	if !ok {
		return nil, fmt.Errorf("seal: startxref: %w", errSyntax)
	}
	f := &file{b: b, offsets: map[int]int{}, last: at}
	for n := 0; ; n++ {
		if n == maxUpdates {
			return nil, fmt.Errorf("seal: PDF with more than %d updates", maxUpdates)
		}
		t, err := f.table(at)
		if err != nil {
			return nil, fmt.Errorf("seal: cross-reference table at %d: %w", at, err)
		}
		if f.trailer == nil {
			f.trailer = t
		}
		prev, ok := t["Prev"].(float64)
		if !ok {
			return f, nil
		}
		at = int(prev)
	}
}

// table reads one cross-reference table and its trailer. Entries already known
// are newer and stay.
func (f *file) table(at int) (dict, error) {
	if at < 0 || at >= len(f.b) {
		return nil, fmt.Errorf("outside the file: %w", errSyntax)
	}
	l := &lexer{f.b, at}
	if !l.accept("xref") {
		return nil, fmt.Errorf("no xref there: %w", errSyntax)
	}
	for !l.accept("trailer") {
		first, ok1 := l.integer()
		count, ok2 := l.integer()
		if !ok1 || !ok2 {
			return nil, fmt.Errorf("subsection: %w", errSyntax)
		}
		for i := range count { // an entry takes 20 bytes, so the file bounds this
			off, ok1 := l.integer()
			_, ok2 := l.integer()
			kind := l.word()
			if !ok1 || !ok2 || kind != "n" && kind != "f" {
				return nil, fmt.Errorf("entry: %w", errSyntax)
			}
			if _, known := f.offsets[first+i]; kind == "n" && !known {
				f.offsets[first+i] = off
			}
		}
	}
	o, err := l.object(0)
	if err != nil {
		return nil, err
	}
	t, ok := o.(dict)
	if !ok {
		return nil, fmt.Errorf("trailer: %w", errSyntax)
	}
	return t, nil
}

// at reads an object and returns the position after it.
func (f *file) at(num int) (any, *lexer, error) {
	off, ok := f.offsets[num]
	if !ok || off < 0 || off >= len(f.b) {
		return nil, nil, fmt.Errorf("seal: object %d is not in the file", num)
	}
	l := &lexer{f.b, off}
	n, ok1 := l.integer()
	_, ok2 := l.integer()
	if !ok1 || !ok2 || n != num || !l.accept("obj") {
		return nil, nil, fmt.Errorf("seal: object %d is not where the table says", num)
	}
	o, err := l.object(0)
	if err != nil {
		return nil, nil, fmt.Errorf("seal: object %d: %w", num, err)
	}
	return o, l, nil
}

// resolve follows a reference, a few times at most.
func (f *file) resolve(o any) any {
	for range 4 {
		r, ok := o.(ref)
		if !ok {
			return o
		}
		var err error
		if o, _, err = f.at(r.num); err != nil {
			return nil
		}
	}
	return nil
}

func (f *file) dict(o any) dict {
	d, _ := f.resolve(o).(dict)
	return d
}

// stream reads the data of a stream object, never more than limit bytes.
func (f *file) stream(num int, limit int64) ([]byte, error) {
	o, l, err := f.at(num)
	if err != nil {
		return nil, err
	}
	d, ok := o.(dict)
	if !ok || !l.accept("stream") {
		return nil, fmt.Errorf("seal: object %d is not a stream", num)
	}
	if l.peek(0) == '\r' {
		l.p++
	}
	if l.peek(0) == '\n' {
		l.p++
	}
	n, ok := f.resolve(d["Length"]).(float64)
	if !ok || n < 0 || n > float64(len(f.b)-l.p) {
		return nil, fmt.Errorf("seal: stream %d: length is not in the file", num)
	}
	raw := f.b[l.p : l.p+int(n)]
	var r io.Reader = bytes.NewReader(raw)
	switch filter := f.resolve(d["Filter"]); filter {
	case nil:
	case name("FlateDecode"):
		if r, err = zlib.NewReader(r); err != nil {
			return nil, fmt.Errorf("seal: stream %d: %w", num, err)
		}
	default:
		return nil, fmt.Errorf("seal: stream %d: filter %v is not read", num, filter)
	}
	data, err := io.ReadAll(io.LimitReader(r, limit+1))
	if err != nil {
		return nil, fmt.Errorf("seal: stream %d: %w", num, err)
	}
	if int64(len(data)) > limit {
		return nil, fmt.Errorf("seal: stream %d is larger than %d bytes", num, limit)
	}
	return data, nil
}
