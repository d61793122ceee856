package rules_test

import (
	"regexp"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"gaugebook/records"
	"gaugebook/records/rules"

	"pgregory.net/rapid"
)

var (
	// Words that nobody says on a job today.
	archaic = regexp.MustCompile(`(?i)\b(anew|afresh|nought|whom|wholly|thereof|therein|hence|thence|lest|upon|ere|` +
		`whilst|hereby|heretofore|forthwith|save for|somewhat|of itself|hold it against|held against|` +
		`stands? still|speaks? for|speaks? against|let alone)\b`)
	// A number runs into its unit.
	unspaced = regexp.MustCompile(`\d(mbar|bar|kW|ppm|mm|cm²|m³|MJ|min|kg|l/min)\b`)
	// A format that was given the wrong arguments, or a code for people.
	leftover = regexp.MustCompile(`%!|\b(nil|NaN|Inf|\w+_\w+)\b|  | ,| \.$|\.\.`)
)

// faults says what is wrong with a text that a person reads, "" if nothing.
func faults(s string) string {
	switch {
	case archaic.MatchString(s):
		return "archaic: " + archaic.FindString(s)
	case unspaced.MatchString(s):
		return "a number runs into its unit: " + unspaced.FindString(s)
	case leftover.MatchString(s):
		return "left over: " + leftover.FindString(s)
	case strings.TrimSpace(s) != s:
		return "space at an end"
	case !utf8.ValidString(s):
		return "not text"
	}
	return ""
}

// sentence says what is wrong with a reason: it begins with a capital, a
// figure or a name and ends as a sentence does.
func sentence(s string) string {
	if f := faults(s); f != "" {
		return f
	}
	first, _ := utf8.DecodeRuneInString(s)
	if unicode.IsLower(first) {
		return "does not begin with a capital"
	}
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") {
		return "does not end as a sentence"
	}
	return ""
}

func TestFaultsAreFound(t *testing.T) {
	for _, bad := range []string{"Readings taken afresh.", "At most 20mbar.", "Shows %!s(MISSING).", "Two  spaces.",
		"The tightness.drop_mbar is missing.", " begins with a space"} {
		if faults(bad) == "" {
			t.Errorf("nothing found in %q", bad)
		}
	}
	for _, bad := range []string{"no capital.", "No end"} {
		if sentence(bad) == "" {
			t.Errorf("%q passes as a sentence", bad)
		}
	}
	for _, good := range []string{"The drop is 4 mbar.", "CO₂ is in range.", "Was it read?",
		"20 mbar could not be reached."} {
		if f := sentence(good); f != "" {
			t.Errorf("%q: %s", good, f)
		}
	}
}

// Titles and explanations of every rule, and the words of every limit.
func TestRulesReadWell(t *testing.T) {
	titles := map[string]string{}
	for _, r := range rules.All() {
		if f := sentence(r.Explains); f != "" {
			t.Errorf("%s explains %q: %s", r.ID, r.Explains, f)
		}
		if f := faults(r.Title); f != "" || strings.HasSuffix(r.Title, ".") || utf8.RuneCountInString(r.Title) > 60 {
			t.Errorf("%s has the title %q: %s", r.ID, r.Title, f)
		}
		if first, _ := utf8.DecodeRuneInString(r.Title); unicode.IsLower(first) {
			t.Errorf("%s has the title %q", r.ID, r.Title)
		}
		key := string(r.Section) + " " + r.Title
		if other := titles[key]; other != "" {
			t.Errorf("%s and %s have the same title %q", r.ID, other, r.Title)
		}
		titles[key] = r.ID
		for _, l := range r.Limits {
			if f := faults(l.Text); f != "" || strings.HasSuffix(l.Text, ".") {
				t.Errorf("%s has the limit %q: %s", r.ID, l.Text, f)
			}
			if f := faults(l.Source.String()); f != "" {
				t.Errorf("%s has the source %q: %s", r.ID, l.Source, f)
			}
		}
	}
}

// readsWell checks all that a finding says.
func readsWell(f records.Finding) string {
	if bad := sentence(f.Reason); bad != "" {
		return "reason " + f.Reason + ": " + bad
	}
	for _, w := range f.Working {
		if bad := sentence(w); bad != "" {
			return "working " + w + ": " + bad
		}
	}
	return ""
}

func TestFindingsOfTheTablesReadWell(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range mustCases(t) {
		r, facts, err := c.build()
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range rules.Evaluate(r, facts) {
			if seen[f.Rule+f.Reason] {
				continue
			}
			seen[f.Rule+f.Reason] = true
			if bad := readsWell(f); bad != "" {
				t.Errorf("%s: %s", f.Rule, bad)
			}
		}
	}
	if len(seen) < 600 {
		t.Errorf("only %d sentences read", len(seen))
	}
}

// Whatever is entered, as long as what people type is left out of it.
func TestFindingsOfAnyRecordReadWell(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, facts := recordOf(t)
		for _, f := range allFields() {
			switch f.Kind {
			case records.TextKind, records.NotesKind:
				if r.Values[f.Key].Present() {
					r.Values.Put(f, "Words")
				}
			}
		}
		for _, f := range rules.Evaluate(r, facts) {
			if bad := readsWell(f); bad != "" {
				t.Fatalf("%s: %s", f.Rule, bad)
			}
		}
	})
}
