package templates

import (
	"fmt"
	"html/template"
	"strings"

	"gaugebook/records"
)

// funcs are what templates may call: plain formatting, nothing of a request.
var funcs = template.FuncMap{
	"static":  staticPath,
	"slug":    Slug,
	"upper":   upperFirst,
	"short":   shortDate,
	"count":   count,
	"settled": func(f records.Finding) bool { return f.Settled() },
	"unsure":  unsure,
}

func staticPath(name string) string { return "/static/" + StaticVersion + "/" + name }

// Slug turns a field key into an id that needs no escaping in a selector.
func Slug(key string) string {
	return strings.NewReplacer(".", "-", "[", "-", "]", "").Replace(key)
}

// upperFirst begins any word of ours with a capital.
func upperFirst(s any) string {
	text := fmt.Sprint(s)
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

// shortDate is for tables: 5 Nov 2026.
func shortDate(d records.Date) string {
	if d.IsZero() {
		return ""
	}
	return d.Time().Format("2 Jan 2006")
}

// count writes a number with its noun: 1 reading, 3 readings.
func count(n int, one, many string) string {
	s := records.FormatNumber(float64(n), 0)
	if n == 1 {
		return s + " " + one
	}
	return s + " " + many
}

// unsure is what to say about how well a limit's figure is confirmed; a
// confirmed one needs no words.
func unsure(s records.Source) string {
	if s.Confidence == records.Confirmed {
		return ""
	}
	return string(s.Confidence)
}
