package seal

import (
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"
	"unicode/utf16"
)

// PDF objects as this package reads them (ISO 32000-1, 7.3).
type (
	name string
	dict map[name]any // values: name, []byte (string), float64, bool, nil, ref, []any, dict
	ref  struct{ num, gen int }
)

// maxDepth bounds nesting, so that a hostile file cannot exhaust the stack.
const maxDepth = 32

var errSyntax = errors.New("not well formed")

// lexer reads objects from a position in a file.
type lexer struct {
	b []byte
	p int
}

func isSpace(c byte) bool {
	return c == ' ' || c == '\n' || c == '\r' || c == '\t' || c == '\f' || c == 0
}

func isDelim(c byte) bool {
	switch c {
	case '(', ')', '<', '>', '[', ']', '{', '}', '/', '%':
		return true
	}
	return false
}

func (l *lexer) skip() {
	for l.p < len(l.b) {
		switch c := l.b[l.p]; {
		case isSpace(c):
			l.p++
		case c == '%':
			for l.p < len(l.b) && l.b[l.p] != '\n' && l.b[l.p] != '\r' {
				l.p++
			}
		default:
			return
		}
	}
}

func (l *lexer) peek(i int) byte {
	if l.p+i < len(l.b) {
		return l.b[l.p+i]
	}
	return 0
}

// word reads a run of regular characters.
func (l *lexer) word() string {
	l.skip()
	start := l.p
	for l.p < len(l.b) && !isSpace(l.b[l.p]) && !isDelim(l.b[l.p]) {
		l.p++
	}
	return string(l.b[start:l.p])
}

// accept takes a keyword if it is next.
func (l *lexer) accept(keyword string) bool {
	at := l.p
	if l.word() == keyword {
		return true
	}
	l.p = at
	return false
}

// integer reads a whole number that is not negative.
func (l *lexer) integer() (int, bool) {
	at := l.p
	n, err := strconv.Atoi(l.word())
	if err != nil || n < 0 {
		l.p = at
		return 0, false
	}
	return n, true
}

func (l *lexer) object(depth int) (any, error) {
	if depth > maxDepth {
		return nil, fmt.Errorf("nested deeper than %d: %w", maxDepth, errSyntax)
	}
	l.skip()
	switch c := l.peek(0); {
	case c == '/':
		return l.name()
	case c == '(':
		return l.literal()
	case c == '<' && l.peek(1) == '<':
		return l.dict(depth)
	case c == '<':
		return l.hex()
	case c == '[':
		l.p++
		list := []any{}
		for {
			l.skip()
			if l.peek(0) == ']' {
				l.p++
				return list, nil
			}
			o, err := l.object(depth + 1)
			if err != nil {
				return nil, err
			}
			list = append(list, o)
		}
	}
	if num, ok := l.integer(); ok { // maybe a reference
		at := l.p
		if gen, ok := l.integer(); ok && l.accept("R") {
			return ref{num, gen}, nil
		}
		l.p = at
		return float64(num), nil
	}
	switch w := l.word(); w {
	case "true", "false":
		return w == "true", nil
	case "null":
		return nil, nil
	default:
		f, err := strconv.ParseFloat(w, 64)
		if err != nil {
			return nil, fmt.Errorf("%.20q: %w", w, errSyntax)
		}
		return f, nil
	}
}

func (l *lexer) name() (name, error) {
	l.p++ // the slash; white space may not follow it
	start := l.p
	for l.p < len(l.b) && !isSpace(l.b[l.p]) && !isDelim(l.b[l.p]) {
		l.p++
	}
	raw := l.b[start:l.p]
	out := make([]byte, 0, len(raw))
	for i := 0; i < len(raw); i++ {
		if raw[i] == '#' && i+2 < len(raw) {
			if v, err := hex.DecodeString(string(raw[i+1 : i+3])); err == nil {
				out = append(out, v[0])
				i += 2
				continue
			}
		}
		out = append(out, raw[i])
	}
	return name(out), nil
}

func (l *lexer) literal() ([]byte, error) {
	l.p++
	out := []byte{}
	for depth := 1; l.p < len(l.b); l.p++ {
		c := l.b[l.p]
		switch c {
		case '(':
			depth++
		case ')':
			if depth--; depth == 0 {
				l.p++
				return out, nil
			}
		case '\\':
			l.p++
			switch e := l.peek(0); e {
			case 'n':
				c = '\n'
			case 'r':
				c = '\r'
			case 't':
				c = '\t'
			default:
				c = e
			}
		}
		out = append(out, c)
	}
	return nil, fmt.Errorf("string without end: %w", errSyntax)
}

func (l *lexer) hex() ([]byte, error) {
	l.p++
	var digits []byte
	for ; l.p < len(l.b); l.p++ {
		c := l.b[l.p]
		if isSpace(c) {
			continue
		}
		if c == '>' {
			l.p++
			if len(digits)%2 == 1 {
				digits = append(digits, '0')
			}
			out := make([]byte, len(digits)/2)
			if _, err := hex.Decode(out, digits); err != nil {
				return nil, fmt.Errorf("hex string: %w", errSyntax)
			}
			return out, nil
		}
		digits = append(digits, c)
	}
	return nil, fmt.Errorf("hex string without end: %w", errSyntax)
}

func (l *lexer) dict(depth int) (dict, error) {
	l.p += 2
	d := dict{}
	for {
		l.skip()
		if l.peek(0) == '>' && l.peek(1) == '>' {
			l.p += 2
			return d, nil
		}
		if l.peek(0) != '/' {
			return nil, fmt.Errorf("dictionary: %w", errSyntax)
		}
		k, _ := l.name()
		v, err := l.object(depth + 1)
		if err != nil {
			return nil, err
		}
		d[k] = v
	}
}

// text decodes a text string: UTF-16 with a byte order mark, else as it is
// (this package writes plain ASCII then).
func text(b []byte) string {
	if len(b) < 2 || b[0] != 0xfe || b[1] != 0xff {
		return string(b)
	}
	u := make([]uint16, 0, len(b)/2)
	for i := 2; i+1 < len(b); i += 2 {
		u = append(u, uint16(b[i])<<8|uint16(b[i+1]))
	}
	return string(utf16.Decode(u))
}

// textString encodes a text string: literal for plain ASCII, else UTF-16.
func textString(s string) string {
	out, plain := []byte{'('}, true
	for i := 0; i < len(s) && plain; i++ {
		c := s[i]
		plain = c >= ' ' && c <= '~'
		if c == '(' || c == ')' || c == '\\' {
			out = append(out, '\\')
		}
		out = append(out, c)
	}
	if plain {
		return string(append(out, ')'))
	}
	out = []byte("<FEFF")
	for _, u := range utf16.Encode([]rune(s)) {
		out = fmt.Appendf(out, "%04X", u)
	}
	return string(append(out, '>'))
}
