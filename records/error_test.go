package records_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"gaugebook/records"
)

// An error reads as one sentence: whose it is, what is wrong, what was given,
// what would be accepted; parts that are not there leave no trace.
func TestErrorReadsAsASentence(t *testing.T) {
	for want, e := range map[string]*records.Error{
		"Drop: out of range: “40” is not accepted: give at most 8 mbar": {Kind: records.Invalid,
			Field: "tightness.drop_mbar", Label: "Drop", Msg: "out of range", Value: "40", Want: "at most 8 mbar"},
		"work_date: give a date":                {Kind: records.Invalid, Field: "work_date", Want: "a date"},
		"Name: this cannot be left blank":       {Label: "Name", Msg: "this cannot be left blank"},
		"“40” is not accepted: give a number":   {Value: "40", Want: "a number"},
		"the record was issued":                 {Kind: records.Conflict, Msg: "the record was issued"},
		"give it once":                          {Want: "it once"},
		"not found":                             {Kind: records.NotFound},
		"Drop: “40” is not accepted":            {Label: "Drop", Value: "40"},
		"record: longer than a record can be":   {Field: "record", Msg: "longer than a record can be"},
		"Drop: out of range: give at most 1 mm": {Label: "Drop", Msg: "out of range", Want: "at most 1 mm"},
	} {
		if got := e.Error(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	both := records.Errors{{Label: "A", Msg: "x"}, {Label: "B", Msg: "y"}}
	if got := both.Error(); got != "A: x; B: y" {
		t.Errorf("%q", got)
	}
	if got := (records.Errors{}).Error(); got != "" {
		t.Errorf("no errors say %q", got)
	}
}

// The kind survives wrapping; what is none of ours is internal, so its text
// never reaches a person.
func TestKindOf(t *testing.T) {
	one := records.Fail(records.NotReady, "not yet")
	many := records.Errors{{Kind: records.Forbidden}, {Kind: records.Invalid}}
	for name, c := range map[string]struct {
		err  error
		want records.ErrorKind
	}{
		"one":             {one, records.NotReady},
		"wrapped":         {fmt.Errorf("issuing: %w", one), records.NotReady},
		"wrapped twice":   {fmt.Errorf("a: %w", fmt.Errorf("b: %w", one)), records.NotReady},
		"joined":          {errors.Join(errors.New("x"), one), records.NotReady},
		"many":            {many, records.Forbidden},
		"many, wrapped":   {fmt.Errorf("saving: %w", many), records.Forbidden},
		"many of none":    {records.Errors{}, records.Internal},
		"somebody else's": {errors.New("disk full"), records.Internal},
		"none":            {nil, records.Internal},
	} {
		if got := records.KindOf(c.err); got != c.want {
			t.Errorf("%s: %s, want %s", name, got, c.want)
		}
	}
	if one.Error() != "not yet" || one.Kind != records.NotReady {
		t.Errorf("%+v", one)
	}
}

// What is echoed is short and is text, whatever was sent.
func TestEchoIsShort(t *testing.T) {
	for name, entry := range map[string]string{"ten megabytes": strings.Repeat("9", 10<<20),
		"long text": strings.Repeat("é", 100), "no text": strings.Repeat("\xff", 100)} {
		_, err := records.ParseDate(entry)
		var e *records.Error
		if !errors.As(err, &e) || utf8.RuneCountInString(e.Value) > 61 || !utf8.ValidString(e.Value) {
			t.Errorf("%s: %d bytes echoed", name, len(e.Value))
		}
		if !strings.HasSuffix(e.Value, "…") && name != "no text" {
			t.Errorf("%s: cut without saying so: %q", name, e.Value)
		}
	}
	exact := strings.Repeat("é", 60)
	if _, err := records.ParseDate(exact); !strings.Contains(err.Error(), "“"+exact+"”") {
		t.Errorf("sixty characters are cut: %v", err)
	}
}

// A refused entry is kept as it was typed, up to what a form can show again,
// and always as text.
func TestNewRejection(t *testing.T) {
	cause := records.Fail(records.Invalid, "no")
	for name, c := range map[string]struct{ entry, want string }{
		"short":          {"61,1", "61,1"},
		"line ends":      {"a\nb", "a\nb"},
		"20,000":         {strings.Repeat("é", 20000), strings.Repeat("é", 20000)},
		"more":           {strings.Repeat("é", 20001), strings.Repeat("é", 20000)},
		"not text, long": {strings.Repeat("\xff", 30000), "?"},
	} {
		got := records.NewRejection(c.entry, cause)
		if got.Message != "no" || !utf8.ValidString(got.Entry) || got.Entry != c.want {
			t.Errorf("%s: %d bytes, %q", name, len(got.Entry), got.Message)
		}
	}
}
