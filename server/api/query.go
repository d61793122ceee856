package api

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

// asked reads the query of an address strictly: a misspelt filter must not be
// taken for no filter.
type asked struct {
	values url.Values
	known  []string
	errs   records.Errors
}

func askedOf(c echo.Context) *asked { return &asked{values: c.QueryParams()} }

func (a *asked) refuse(name, value, want string) {
	if r := []rune(strings.ToValidUTF8(value, "?")); len(r) > 60 {
		value = string(r[:60]) + "…"
	}
	a.errs = append(a.errs, &records.Error{Kind: records.Invalid, Field: name, Value: value, Want: want})
}

// text returns a parameter that may be anything of at most 200 characters.
func (a *asked) text(name string) string {
	a.known = append(a.known, name)
	all := a.values[name]
	switch {
	case len(all) == 0:
		return ""
	case len(all) > 1:
		a.refuse(name, strings.Join(all, ", "), "it once")
	case len([]rune(all[0])) > 200:
		a.refuse(name, all[0], "at most 200 characters")
	}
	return all[0]
}

// oneOfThese returns a parameter that is one of a list, or blank.
func oneOfThese[T ~string](q *asked, name string, these ...T) T {
	v := T(q.text(name))
	if v != "" && !slices.Contains(these, v) {
		words := make([]string, len(these))
		for i, t := range these {
			words[i] = string(t)
		}
		q.refuse(name, string(v), "one of "+strings.Join(words, ", "))
	}
	return v
}

// date returns a parameter that is a calendar date, or none.
func (a *asked) date(name string) records.Date {
	text := a.text(name)
	if text == "" {
		return records.Date{}
	}
	d, err := records.ParseDate(text)
	if err != nil {
		a.refuse(name, text, "a date as YYYY-MM-DD")
	}
	return d
}

// limit returns how many lines a page may have; 0 when it is not said.
func (a *asked) limit() int {
	text := a.text("limit")
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > 500 {
		a.refuse("limit", text, "a whole number from 1 to 500")
	}
	return n
}

// err returns everything that was wrong, names that are not known included.
func (a *asked) err() error {
	var strange []string
	for name := range a.values {
		if !slices.Contains(a.known, name) {
			strange = append(strange, name)
		}
	}
	slices.Sort(strange)
	for _, name := range strange {
		a.errs = append(a.errs, &records.Error{Kind: records.Invalid, Field: name, Msg: "there is no such parameter",
			Want: "only " + strings.Join(a.known, ", ")})
	}
	if len(a.errs) > 0 {
		return a.errs
	}
	return nil
}
