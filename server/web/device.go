package web

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

// A device on which a person has signed in is known: its attempts are counted by
// themselves, so that nobody who guesses elsewhere can keep them out. Being known
// lets nobody in.

const deviceLife = 2 * 365 * 24 * time.Hour

func (k *Kit) deviceCookie() string {
	if k.secure {
		return "__Host-gaugebook-device"
	}
	return "gaugebook-device"
}

// deviceProof binds a device's random name to an e-mail address.
func (k *Kit) deviceProof(nonce, email string) string {
	key := sha256.Sum256(append([]byte("gaugebook device\n"), k.App.Key.Seed()...))
	mac := hmac.New(sha256.New, key[:])
	mac.Write([]byte(nonce + "\n" + strings.ToLower(strings.TrimSpace(email))))
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

// KnownDevice returns the name of the device if the person of the address has
// signed in on it, otherwise "".
func (k *Kit) KnownDevice(c echo.Context, email string) string {
	cookie, err := c.Cookie(k.deviceCookie())
	if err != nil || len(cookie.Value) > 200 {
		return ""
	}
	nonce, proof, ok := strings.Cut(cookie.Value, ".")
	if !ok || !hmac.Equal([]byte(proof), []byte(k.deviceProof(nonce, email))) {
		return ""
	}
	return "device " + nonce
}

// rememberDevice has the device known from now on.
func (k *Kit) rememberDevice(c echo.Context, p records.Person) {
	nonce := rand.Text()
	c.SetCookie(&http.Cookie{Name: k.deviceCookie(), Value: nonce + "." + k.deviceProof(nonce, p.Email), Path: "/",
		HttpOnly: true, Secure: k.secure, SameSite: http.SameSiteLaxMode, MaxAge: int(deviceLife / time.Second)})
}
