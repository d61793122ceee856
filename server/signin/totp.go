package signin

import (
	"crypto/hmac"
	"crypto/sha1"
	"crypto/subtle"
	"encoding/base32"
	"encoding/binary"
	"fmt"
	"net/url"
	"strings"
	"time"
)

// What every app for one-time codes takes without being told.
const (
	codeDigits = 6
	stepTime   = 30 * time.Second
	secretSize = 20 // bytes, as many as SHA-1 gives: RFC 4226, section 4, R6
	// drift is by how many steps the clock of a phone may differ: RFC 6238,
	// section 5.2.
	drift = 1
)

// stepAt is the time step of an instant: whole times of 30 s since 1970 (RFC
// 6238, section 4.2).
func stepAt(t time.Time) int64 { return t.Unix() / int64(stepTime/time.Second) }

// codeOf returns the code of a secret in a time step, of so many digits, 6 to 8.
// Source: RFC 6238 with HMAC-SHA-1, cut short as RFC 4226, section 5.3, says.
func codeOf(secret []byte, step int64, digits int) string {
	mac := hmac.New(sha1.New, secret)
	var counter [8]byte
	binary.BigEndian.PutUint64(counter[:], uint64(step))
	mac.Write(counter[:])
	sum := mac.Sum(nil)
	at := sum[len(sum)-1] & 0xf
	n := binary.BigEndian.Uint32(sum[at:at+4]) & 0x7fffffff
	limit := uint32(1)
	for range digits {
		limit *= 10
	}
	return fmt.Sprintf("%0*d", digits, n%limit)
}

// stepOf finds the time step near an instant of which a code is, after the last
// one that counted. A blank secret has no codes.
func stepOf(secret []byte, code string, now time.Time, last int64) (step int64, ok bool) {
	if len(secret) == 0 || len(code) != codeDigits {
		return 0, false
	}
	present := stepAt(now)
	for s := present - drift; s <= present+drift; s++ {
		if subtle.ConstantTimeCompare([]byte(codeOf(secret, s, codeDigits)), []byte(code)) == 1 && s > last {
			step, ok = s, true
		}
	}
	return step, ok
}

// secretText writes a secret as apps read it.
func secretText(secret []byte) string {
	return base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(secret)
}

// addressOf is what an app reads from the QR code. The issuer must hold no colon,
// which parts it from the account.
func addressOf(secret []byte, issuer, account string) string {
	issuer = strings.TrimSpace(strings.ReplaceAll(issuer, ":", " "))
	q := url.Values{"secret": {secretText(secret)}, "issuer": {issuer}, "algorithm": {"SHA1"},
		"digits": {fmt.Sprint(codeDigits)}, "period": {fmt.Sprint(int(stepTime / time.Second))}}
	return "otpauth://totp/" + url.PathEscape(issuer+":"+account) + "?" +
		strings.ReplaceAll(q.Encode(), "+", "%20") // some apps show the plus
}

// tidied takes out what people and apps put between the signs of a code.
func tidied(entered string) string {
	if len(entered) > 100 {
		return ""
	}
	return strings.ToLower(strings.NewReplacer(" ", "", "-", "", "\u00a0", "", "\t", "").Replace(entered))
}
