package store

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// searchWords returns the text that the search index holds for an appliance.
// Groups that people write with or without a gap or dash, such as postcodes,
// serial and record numbers, are there in both forms.
func searchWords(parts ...string) string {
	seen := map[string]bool{}
	var words []string
	add := func(w string) {
		if w != "" && !seen[w] {
			seen[w] = true
			words = append(words, w)
		}
	}
	for _, part := range parts {
		tokens := tokensOf(part)
		for _, w := range tokens {
			add(w)
		}
		if len(tokens) > 1 && len(tokens) <= 4 && strings.ContainsAny(part, "0123456789") {
			add(strings.Join(tokens, ""))
		}
	}
	return strings.Join(words, " ")
}

// tokensOf splits s as the index does: runs of letters and digits, with the
// marks that belong to them, in lower case and without accents.
func tokensOf(s string) []string {
	return strings.FieldsFunc(folded(s), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsNumber(r) && !unicode.IsMark(r)
	})
}

func folded(s string) string {
	s = norm.NFD.String(strings.ToLower(strings.ToValidUTF8(s, " ")))
	return norm.NFC.String(strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, s))
}

// term is one word that is sought.
type term struct {
	word  string
	whole bool // as it stands, not as the beginning of a word
}

// within is what the stored words, with a gap at both ends, must hold.
func (t term) within() string {
	if t.whole {
		return " " + t.word + " "
	}
	return " " + t.word
}

// termsOf returns the words of what a person typed: every one must be there,
// the longer ones need only begin so.
func termsOf(search string) (terms []term) {
	for _, w := range tokensOf(search) {
		if len(terms) == 8 || !strings.ContainsFunc(w, func(r rune) bool {
			return unicode.IsLetter(r) || unicode.IsNumber(r)
		}) {
			continue
		}
		if utf8.RuneCountInString(w) > 40 {
			w = string([]rune(w)[:40])
		}
		terms = append(terms, term{w, isWhole(w)})
	}
	return terms
}

// isWhole reports whether a word is sought as it stands: a single sign, or a
// house number, where 1 is not to find 100.
func isWhole(w string) bool {
	return utf8.RuneCountInString(w) < 2 || len(w) < 3 && strings.Trim(w, "0123456789") == ""
}
