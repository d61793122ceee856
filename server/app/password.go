package app

import (
	"bytes"
	"context"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"gaugebook/records"
)

// commonWords are what passwords are made of first: those of every list of
// leaked ones, and of this trade.
var commonWords = strings.Fields(`password passwort passphrase passcode welcome letmein changeme secret iloveyou
	sunshine princess football baseball superman batman dragon monkey master shadow michael jordan charlie
	liverpool arsenal chelsea everton rangers celtic administrator admin login computer internet summer winter spring
	autumn monday tuesday wednesday thursday friday saturday sunday january february march april june july august
	september october november december gaugebook heating heater boiler plumbing plumber engineer engineers service
	services records register office owner gas`)

// runs are the keys in a row and letters and digits in order, either way.
var runs = func() []string {
	var out []string
	for _, s := range []string{"01234567890", "abcdefghijklmnopqrstuvwxyz", "qwertyuiop", "asdfghjkl", "zxcvbnm"} {
		var back strings.Builder
		for i := len(s) - 1; i >= 0; i-- {
			back.WriteByte(s[i])
		}
		out = append(out, s, back.String())
	}
	return out
}()

var (
	// spelled undoes the usual letters written as digits and signs.
	spelled = strings.NewReplacer("0", "o", "1", "i", "3", "e", "4", "a", "5", "s", "7", "t", "@", "a", "$", "s", "!",
		"i")
	aYear = regexp.MustCompile(`(19|20)\d\d`)
)

const (
	// leastOwn is how many different letters and digits a password must have
	// besides common words, names of the firm and the person, years, runs and
	// repeats.
	leastOwn = 5
	// mostDigits is how many digits count for that beside such a word: a name and
	// a number is what everybody tries.
	mostDigits = 2
)

// guessable reports whether little is left of a password once everything that
// others would try is taken out.
func guessable(password string, known ...string) bool {
	words := slices.Clone(commonWords)
	for _, k := range known {
		for _, w := range strings.FieldsFunc(strings.ToLower(k), func(r rune) bool { return !unicode.IsLetter(r) }) {
			if len(w) > 2 {
				words = append(words, w)
			}
		}
	}
	slices.SortFunc(words, func(a, b string) int { return len(b) - len(a) }) // “march” is not all of “marchbank”
	lower := strings.ToLower(password)
	return own(lower, lower, words) < leastOwn || own(lower, spelled.Replace(lower), words) < leastOwn
}

// own counts the different letters and digits that are left of a password in lower
// case. Words are looked for in it as it is searched, which has as many bytes.
func own(lower, searched string, words []string) int {
	left, text := []byte(lower), []byte(searched)
	blank := func(from, to int) {
		for i := from; i < to; i++ {
			left[i], text[i] = ' ', ' '
		}
	}
	for _, at := range aYear.FindAllStringIndex(lower, -1) {
		blank(at[0], at[1])
	}
	named := false
	for again := true; again; {
		again = false
		for _, w := range words {
			if i := bytes.Index(text, []byte(w)); i >= 0 {
				blank(i, i+len(w))
				named, again = true, true
			}
		}
	}
	for _, run := range runs {
		for n := len(run); n >= 3; n-- {
			for i := 0; i+n <= len(run); i++ {
				left = bytes.ReplaceAll(left, []byte(run[i:i+n]), []byte(" "))
			}
		}
	}
	letters, digits := map[rune]bool{}, map[rune]bool{}
	for _, r := range string(left) {
		switch {
		case unicode.IsLetter(r):
			letters[r] = true
		case unicode.IsDigit(r):
			digits[r] = true
		}
	}
	if named {
		return len(letters) + min(len(digits), mostDigits)
	}
	return len(letters) + len(digits)
}

// PasswordOf hashes a password for a person. Kinds: Invalid for one that is too
// short or long, or that is put together from what others would try: common
// words, the firm's name, address or town, the person's name or e-mail address,
// years, rows of keys, with some digits.
func (a *App) PasswordOf(ctx context.Context, p records.Person, password string) (string, error) {
	firm, err := a.Store.Settings.Firm(ctx)
	if err != nil {
		return "", err
	}
	hash, err := a.Passwords.Hash(password)
	if err == nil && guessable(password, firm.Name, firm.Address, firm.Email, p.Name, p.Email) {
		return "", &records.Error{Kind: records.Invalid, Field: "password", Label: "Password",
			Msg: "this is among the first that somebody would try",
			Want: "words that have nothing to do with you, the firm or the trade, such as three or four drawn " +
				"by chance"}
	}
	return hash, err
}

// ResetPassword gives a person a new password, ends their sessions and tells
// them. Kinds: NotFound; Conflict for a closed account; Invalid.
func (a *App) ResetPassword(ctx context.Context, by records.Actor, email, password string) (records.Person, error) {
	p, err := a.Store.People.ByEmail(ctx, email)
	if err != nil {
		return p, err
	}
	if !p.Active {
		return p, records.Fail(records.Conflict, "this account is closed: an owner opens it again first")
	}
	hash, err := a.PasswordOf(ctx, p, password)
	if err != nil {
		return p, err
	}
	letters, err := TellHolder(ctx, a, p, by, "Your password was changed", p.Email)
	if err != nil {
		return p, err
	}
	return p, a.Store.People.SetPassword(ctx, by, p.ID, hash, letters...)
}
