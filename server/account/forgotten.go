package account

import (
	"context"
	"net/http"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// Forgotten sends whoever has forgotten their password a link to set a new one.
// It answers the same, as fast, whether there is such an account or not.
type Forgotten struct {
	*web.Kit
	Attempts *web.Limiter
}

// linkAgain is how long nobody is sent a second link.
const linkAgain = 10 * time.Minute

func (f Forgotten) show(c echo.Context, intro string, form web.Form) error {
	return f.Page(c, http.StatusOK, "form", web.FormPage{Base: f.Base(c, "Password forgotten"),
		Trail: web.NavItem{Href: "/sign-in", Text: "Sign in"}, Heading: "Password forgotten", Intro: intro, Form: form})
}

func (f Forgotten) Form(c echo.Context) error {
	return f.show(c, "Give the address that you sign in with. A link to set a new password is sent there; until you "+
		"use it, the old one works.", web.Form{Action: "/forgotten", Button: "Send the link",
		Inputs: []*web.Input{web.TextInput("email", "E-mail", 120).Must().Typed("email").Autocomplete("username")}})
}

// Send has the link sent, if there is such an account.
func (f Forgotten) Send(c echo.Context) error {
	email := strings.TrimSpace(c.FormValue("email"))
	if !f.Attempts.Allow(web.AddressOf(c)) {
		return echo.NewHTTPError(http.StatusTooManyRequests, "too many attempts: wait a minute, then try again")
	}
	go f.send(context.WithoutCancel(c.Request().Context()), email)
	return web.Redirect(c, "/forgotten/sent")
}

func (f Forgotten) Sent(c echo.Context) error {
	return f.show(c, "If there is an account with that address, a link is on its way to it. It works once, for seven "+
		"days. If none comes, ask the owner of your firm.", web.Form{Action: "/forgotten", Button: "Send it again",
		Inputs: []*web.Input{web.TextInput("email", "E-mail", 120).Must().Typed("email").Autocomplete("username")}})
}

func (f Forgotten) send(ctx context.Context, email string) {
	ctx, cancel := context.WithTimeout(ctx, web.RequestTime)
	defer cancel()
	p, err := f.Store.People.ByEmail(ctx, email)
	if err != nil || !p.Active {
		return
	}
	links, err := f.Store.People.Invitations(ctx)
	if err == nil && f.App.Now().Sub(links[p.ID].CreatedAt) > linkAgain {
		_, err = f.App.Invite(ctx, records.SystemActor, p.ID)
	}
	if err != nil {
		f.Log.ErrorContext(ctx, "no link to set a password could be sent", "person", p.ID, "error", err)
	}
}
