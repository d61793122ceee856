package signin

import (
	"encoding/csv"
	"net/url"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
)

func TestCodesOfTheStandard(t *testing.T) {
	f, err := os.Open("../../testdata/sign-in/one_time_codes.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 17 {
		t.Fatal(len(rows), err)
	}
	for _, r := range rows[1:] {
		seconds, err := strconv.ParseInt(r[1], 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		digits, err := strconv.Atoi(r[2])
		if err != nil {
			t.Fatal(err)
		}
		if got := codeOf([]byte(r[0]), stepAt(time.Unix(seconds, 0)), digits); got != r[3] {
			t.Errorf("%s at %d: %s, want %s (%s)", r[0], seconds, got, r[3], r[4])
		}
		if r[4] == "" {
			t.Errorf("%v has no source", r)
		}
	}
}

// A code counts in its own step and in those beside it, and not when a later one,
// or itself, has counted.
func TestStepOf(t *testing.T) {
	secret := []byte("12345678901234567890")
	now := time.Unix(1_800_000_015, 0) // the middle of a step
	present := stepAt(now)
	for by := int64(-3); by <= 3; by++ {
		step, ok := stepOf(secret, codeOf(secret, present+by, codeDigits), now, 0)
		if want := by >= -1 && by <= 1; ok != want || ok && step != present+by {
			t.Errorf("a code %d steps off: step %d, %v", by, step-present, ok)
		}
	}
	code := codeOf(secret, present, codeDigits)
	for last, want := range map[int64]bool{present - 1: true, present: false, present + 1: false} {
		if _, ok := stepOf(secret, code, now, last); ok != want {
			t.Errorf("after step %d: %v", last-present, ok)
		}
	}
	blank := codeOf(nil, present, codeDigits)
	for _, bad := range []struct {
		secret []byte
		code   string
	}{{nil, blank}, {[]byte{}, blank}, {secret, ""}, {secret, code[:5]}, {secret, code + "0"},
		{secret, "１２３４５６"}} {
		if _, ok := stepOf(bad.secret, bad.code, now, 0); ok {
			t.Errorf("%q is a code of %q", bad.code, bad.secret)
		}
	}
}

func TestTidied(t *testing.T) {
	for in, want := range map[string]string{"123 456": "123456", " 123-456 ": "123456",
		"ABCD-efgh-2345-WXYZ": "abcdefgh2345wxyz", "123\u00a0456": "123456", strings.Repeat("1", 101): ""} {
		if got := tidied(in); got != want {
			t.Errorf("%q: %q", in, got)
		}
	}
	for code, want := range map[string]bool{"abcdefgh2345wxyz": true, "123456": false, "abcdefgh2345wxy1": false,
		"abcdefgh2345wxyzz": false} {
		if isRecoveryCode(code) != want {
			t.Errorf("%q as a recovery code: %v", code, !want)
		}
	}
}

// What an app reads has one issuer and one account, whatever the firm is called.
func TestAddressOf(t *testing.T) {
	secret := []byte("12345678901234567890")
	for _, issuer := range []string{"Tweddle & Daughter", "A: B", "50 % + Söhne / x?"} {
		u, err := url.Parse(addressOf(secret, issuer, "maud@tweddle.example"))
		if err != nil {
			t.Fatal(err)
		}
		q := u.Query()
		label := strings.TrimPrefix(u.Path, "/")
		of, account, _ := strings.Cut(label, ":")
		if u.Scheme != "otpauth" || u.Host != "totp" || account != "maud@tweddle.example" || of != q.Get("issuer") ||
			strings.Count(label, ":") != 1 || q.Get("secret") != "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ" ||
			q.Get("digits") != "6" || q.Get("period") != "30" || strings.Contains(u.RawQuery, "+") {
			t.Errorf("%s: %s", issuer, u)
		}
	}
}

func TestChallengesAreTakenOnce(t *testing.T) {
	now := time.Unix(0, 0)
	c := newChallenges(func() time.Time { return now })
	ask := func(text string) { c.put(sessionData(text)) }
	ask("a")
	if _, ok := c.take("a"); !ok {
		t.Error("what was asked is not known")
	}
	if _, ok := c.take("a"); ok {
		t.Error("it is answered twice")
	}
	ask("late")
	now = now.Add(challengeLife)
	if _, ok := c.take("late"); ok {
		t.Error("it is answered too late")
	}
	for i := range mostChallenges + 500 {
		ask(strconv.Itoa(i))
	}
	if n := c.oldest.Len(); n > mostChallenges || len(c.byText) != n {
		t.Errorf("%d are kept, %d by name", n, len(c.byText))
	}
	if _, ok := c.take("3"); ok {
		t.Error("the oldest is kept")
	}
	now = now.Add(2 * challengeLife)
	ask("next")
	if n := c.oldest.Len(); n != 1 {
		t.Errorf("%d are kept after their time", n)
	}
}
