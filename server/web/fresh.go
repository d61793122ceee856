package web

import (
	"net/http"
	"net/url"
	"time"

	"github.com/labstack/echo/v4"
)

// What hands the register over, such as owners, keys and exports, wants to know
// that the person is still the one at the screen: their password a short time ago.

// freshFor is how long a password that was given counts.
const freshFor = 15 * time.Minute

const keyProved = "proved"

// Proved notes that the person of the session has just given their password.
func (k *Kit) Proved(c echo.Context) {
	k.sessions.Put(c.Request().Context(), keyProved, k.App.Now().Unix())
}

// Fresh lets on whoever gave their password a short time ago, and asks the others
// for it first. What they were about to send they send again afterwards.
func (k *Kit) Fresh(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		proved := time.Unix(k.sessions.GetInt64(c.Request().Context(), keyProved), 0)
		if age := k.App.Now().Sub(proved); age >= -time.Minute && age < freshFor {
			return next(c)
		}
		r := c.Request()
		if r.Header.Get(PartHeader) != "" {
			return echo.NewHTTPError(http.StatusUnauthorized, "give your password again first")
		}
		back := r.URL.RequestURI()
		if r.Method != http.MethodGet {
			back = "/"
			if from, err := url.Parse(r.Referer()); err == nil && from.Host == r.Host {
				back = LocalPath(from.RequestURI())
			}
			k.Flash(c, "Nothing was changed yet. Give your password, then send it again.")
		}
		return c.Redirect(http.StatusSeeOther, "/confirm?next="+url.QueryEscape(back))
	}
}
