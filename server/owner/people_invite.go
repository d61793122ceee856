package owner

import (
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// Invite sends a person a link, in place of one that they have: the first
// time, again, or because the password was forgotten.
func (pe People) Invite(c echo.Context) error {
	p, err := pe.App.Invite(c.Request().Context(), web.ActorOf(c), c.Param("id"))
	if err != nil {
		return err
	}
	pe.Flash(c, "A link to set the password is on its way to "+p.Email+". It works once, for seven days.")
	return web.Redirect(c, "/people")
}

func (pe People) RevokeInvite(c echo.Context) error {
	err := pe.Store.People.RevokeInvitation(c.Request().Context(), web.ActorOf(c), c.Param("id"))
	return pe.Done(c, err, "The link no longer works.", "/people")
}

// inviteState says in words how a person's link stands; blank when nothing is
// to be said.
func (pe People) inviteState(i records.Invitation, now time.Time) (words string, open bool) {
	switch {
	case i.ID == "" || i.EndedWhy == "used":
		return "", false
	case i.Open(now):
		return "link sent, valid until " + pe.Clock(i.ExpiresAt), true
	case i.EndedWhy != "":
		return "link " + i.EndedWhy, false
	}
	return "link expired, not used", false
}
