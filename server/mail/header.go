package mail

import (
	"bytes"
	"encoding/base64"
	netmail "net/mail"
	"strings"
	"unicode/utf8"
)

// softLine is the line length that RFC 5322 section 2.1.1 asks for.
const softLine = 78

func writeField(out *bytes.Buffer, name, value string) {
	out.WriteString(name + ": " + fold(name, value) + "\r\n")
}

// fold breaks value before spaces so that lines stay within softLine where
// words allow. It only breaks before a space that stands alone: a blank line
// would end the header, and many readers make one space of a run at a break.
// Unfolding gives value back.
func fold(name, value string) string {
	var b strings.Builder
	used := len(name) + 2
	for value != "" {
		end := wordEnd(value)
		alone := end > 1 && value[0] == ' ' && value[1] != ' '
		if used+end > softLine && alone && b.Len() > 0 {
			b.WriteString("\r\n")
			used = 0
		}
		b.WriteString(value[:end])
		used += end
		value = value[end:]
	}
	return b.String()
}

// wordEnd gives the end of the leading spaces and of the word after them.
func wordEnd(s string) int {
	start := len(s) - len(strings.TrimLeft(s, " "))
	if i := strings.IndexByte(s[start:], ' '); i >= 0 {
		return start + i
	}
	return len(s)
}

// unstructured writes text for a field such as Subject, encoded only if it has to be.
func unstructured(text string) string {
	if plain(text) {
		return text
	}
	return encodedWords(text)
}

// header writes the address for From, To or Reply-To.
func (a Address) header() string {
	if a.Name != "" && !plain(a.Name) {
		return encodedWords(a.Name) + " <" + a.Email + ">"
	}
	return (&netmail.Address{Name: a.Name, Address: a.Email}).String()
}

// plain is true for ASCII text that can stand as it is: it does not look like
// an encoded word, has no runs of spaces, and every word fits on a line.
func plain(text string) bool {
	if !isASCII(text) || strings.Contains(text, "=?") || strings.Contains(text, "  ") {
		return false
	}
	for _, word := range strings.Split(text, " ") {
		if len(word) > softLine-20 {
			return false
		}
	}
	return true
}

// encodedWords writes text as RFC 2047 encoded words, each at most 75
// characters long and none splitting a character.
func encodedWords(text string) string {
	const most = 45 // bytes: 60 in base64, with 12 around them
	var words []string
	for text != "" {
		n := 0
		for n < len(text) {
			_, size := utf8.DecodeRuneInString(text[n:])
			if n+size > most {
				break
			}
			n += size
		}
		words = append(words, "=?utf-8?B?"+base64.StdEncoding.EncodeToString([]byte(text[:n]))+"?=")
		text = text[n:]
	}
	return strings.Join(words, " ")
}
