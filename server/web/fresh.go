package web

import (
	"net/http"
	"net/url"
	"time"

	"github.com/labstack/echo/v4"
)

// What hands the register over, such as owners, keys and exports, wants to know
// that the person is still the one at the screen: their password a short time ago,
// or where the account asks for more than that, a code or a passkey.

// freshFor is how long such a proof counts.
const freshFor = 15 * time.Minute

const keyProved = "proved"

// Proved notes that the person of the session has just proved who they are.
func (k *Kit) Proved(c echo.Context) {
	k.sessions.Put(c.Request().Context(), keyProved, k.App.Now().Unix())
}

// Fresh lets on whoever proved who they are a short time ago, and asks the others
// for that first. What they were about to send they send again afterwards.
func (k *Kit) Fresh(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		proved := time.Unix(k.sessions.GetInt64(c.Request().Context(), keyProved), 0)
		if age := k.App.Now().Sub(proved); age >= -time.Minute && age < freshFor {
			return next(c)
		}
		r := c.Request()
		if r.Header.Get(PartHeader) != "" {
			return echo.NewHTTPError(http.StatusUnauthorized, "confirm first that it is you")
		}
		back := r.URL.RequestURI()
		if r.Method != http.MethodGet {
			back = "/"
			if from, err := url.Parse(r.Referer()); err == nil && from.Host == r.Host {
				back = LocalPath(from.RequestURI())
			}
			k.Flash(c, "Nothing was changed yet. Confirm that it is you, then send it again.")
		}
		return c.Redirect(http.StatusSeeOther, "/confirm?next="+url.QueryEscape(back))
	}
}
