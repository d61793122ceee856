package store

import (
	"strings"
	"unicode"
	"unicode/utf8"
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
// marks that belong to them.
func tokensOf(s string) []string {
	return strings.FieldsFunc(strings.ToLower(strings.ToValidUTF8(s, " ")), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsNumber(r) && !unicode.IsMark(r)
	})
}

// matchOf turns what a person typed into a query of the index: every word
// must be there, the longer ones need only begin so. Nothing typed is ever
// taken for an operator. ok is false when there is no word in it.
func matchOf(search string) (match string, ok bool) {
	var terms []string
	for _, w := range tokensOf(search) {
		if len(terms) == 8 || !strings.ContainsFunc(w, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsNumber(r) }) {
			continue
		}
		if utf8.RuneCountInString(w) > 40 {
			w = string([]rune(w)[:40])
		}
		if !isWhole(w) {
			w += "*"
		}
		terms = append(terms, `"`+w+`"`)
	}
	return strings.Join(terms, " "), len(terms) > 0
}

// isWhole reports whether a word is sought as it stands: a single sign, or a
// house number, where 1 is not to find 100.
func isWhole(w string) bool {
	return utf8.RuneCountInString(w) < 2 || len(w) < 3 && strings.Trim(w, "0123456789") == ""
}
