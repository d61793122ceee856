package account

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"
	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// Calendars is the addresses that calendar programs read.
type Calendars struct{ *web.Kit }

// calendarPage is where people make and end the addresses that their calendar
// programs read.
type calendarPage struct {
	web.Base
	Feeds     []feedLine
	New       string // shown once, after it was made
	MayOffice bool
	MayOwn    bool
}

type feedLine struct{ ID, Of, By, Made string }

func (ca Calendars) Show(c echo.Context) error { return ca.show(c, "") }

func (ca Calendars) show(c echo.Context, made string) error {
	me := web.Person(c)
	data := calendarPage{Base: ca.Base(c, "Calendar"), New: made, MayOffice: web.Office.Allows(me.Role),
		MayOwn: web.Engineers.Allows(me.Role)}
	list, err := ca.Store.Bookings.Feeds(c.Request().Context(), feedsOf(me))
	if err != nil {
		return err
	}
	for _, f := range list {
		l := feedLine{ID: f.ID, Of: f.Person, By: f.Owner, Made: ca.Clock(f.CreatedAt)}
		if f.PersonID == "" {
			l.Of = "Whole office"
		}
		data.Feeds = append(data.Feeds, l)
	}
	return ca.Page(c, http.StatusOK, "calendar", data)
}

// feedsOf says whose addresses a person sees and may end: the owner
// everybody's.
func feedsOf(me records.Person) string {
	if me.Role == records.RoleOwner {
		return ""
	}
	return me.ID
}

func (ca Calendars) Add(c echo.Context) error {
	me, of := web.Person(c), web.Person(c).ID
	if c.FormValue("of") == "office" {
		if !web.Office.Allows(me.Role) {
			return records.Fail(records.Forbidden, "only the office may have the calendar of all visits")
		}
		of = ""
	} else if !web.Engineers.Allows(me.Role) {
		return &records.Error{Kind: records.Invalid, Field: "of", Label: "Whose visits",
			Want: "office: the office has no visits of its own"}
	}
	f, err := ca.Store.Bookings.AddFeed(c.Request().Context(), web.ActorOf(c), of)
	if err != nil {
		return err
	}
	return ca.show(c, ca.App.BaseURL+"/calendar/"+f.Token+".ics")
}

func (ca Calendars) End(c echo.Context) error {
	if err := ca.Store.Bookings.EndFeed(c.Request().Context(), web.ActorOf(c), feedsOf(web.Person(c)),
		c.Param("id")); err != nil {
		return err
	}
	ca.Flash(c, "The address no longer works.")
	return web.Redirect(c, "/calendar")
}

// How far a feed reaches back and ahead.
const (
	feedBackDays  = 90
	feedAheadDays = 400
)

// Feed answers a calendar program. The secret in the address is the key to
// it.
func (ca Calendars) Feed(c echo.Context) error {
	ctx := c.Request().Context()
	token, ok := strings.CutSuffix(c.Param("token"), ".ics")
	if !ok {
		return echo.ErrNotFound
	}
	f, err := ca.Store.Bookings.FeedByToken(ctx, token)
	if err != nil {
		return err
	}
	today := ca.App.Today()
	list, err := ca.Store.Bookings.Between(ctx, f.PersonID, today.AddDays(-feedBackDays), today.AddDays(feedAheadDays))
	if err != nil {
		return err
	}
	name := "Visits"
	if f.Person != "" {
		name = "Visits of " + f.Person
	}
	body := Calendar(name, ca.App.BaseURL, ca.App.Zone, list)
	sum := sha256.Sum256(body)
	tag := `"` + hex.EncodeToString(sum[:16]) + `"`
	web.PrivateHeaders(c)
	h := c.Response().Header()
	h.Set("ETag", tag)
	h.Set("Cache-Control", "private, no-cache")
	if strings.Contains(c.Request().Header.Get("If-None-Match"), tag) {
		return c.NoContent(http.StatusNotModified)
	}
	return c.Blob(http.StatusOK, "text/calendar; charset=utf-8", body)
}

// Calendar writes the bookings as an iCalendar object (RFC 5545): one VEVENT
// each with a UID that never changes, all-day without a window, in UTC with
// one. The same bookings always give the same bytes.
func Calendar(name, baseURL string, zone *time.Location, list []records.Booking) []byte {
	cal := ics.NewCalendar()
	cal.SetProductId("-//Gaugebook//Visits//EN")
	cal.SetMethod(ics.MethodPublish)
	cal.SetXWRCalName(name)
	for _, b := range list {
		e := cal.AddEvent(b.ID + "@gaugebook")
		e.SetDtStampTime(b.UpdatedAt.UTC())
		e.SetModifiedAt(b.UpdatedAt.UTC())
		e.SetSequence(b.Sequence)
		if b.From == "" {
			e.SetAllDayStartAt(b.On.Time())
			e.SetAllDayEndAt(b.On.AddDays(1).Time())
			e.SetTimeTransparency(ics.TransparencyTransparent)
		} else {
			e.SetStartAt(clockAt(b.On, b.From, zone))
			e.SetEndAt(clockAt(b.On, b.Until, zone))
		}
		e.SetStatus(ics.ObjectStatusConfirmed)
		if b.State == records.BookingCancelled {
			e.SetStatus(ics.ObjectStatusCancelled)
		}
		e.SetSummary(visitWords(b) + ", " + b.Property.Line1)
		e.SetLocation(b.Property.OneLine())
		e.SetDescription(visitDescription(b))
		e.SetURL(baseURL + "/bookings/" + b.ID)
	}
	return []byte(cal.Serialize(ics.WithNewLineWindows))
}

func clockAt(on records.Date, hhmm string, zone *time.Location) time.Time {
	t, err := time.ParseInLocation("2006-01-02 15:04", on.String()+" "+hhmm, zone)
	if err != nil {
		return on.Time() // the database holds such times only
	}
	return t.UTC()
}

// visitWords says what a visit is for.
func visitWords(b records.Booking) string {
	var kinds []string
	for _, d := range b.Duties {
		kinds = append(kinds, string(d.Duty.Kind))
	}
	if len(kinds) == 0 {
		return "Visit"
	}
	return records.UpperFirst(strings.Join(kinds, " and "))
}

func visitDescription(b records.Booking) string {
	lines := []string{b.Appliance}
	if b.Location != "" {
		lines[0] += ", " + b.Location
	}
	for _, s := range []string{strings.TrimSpace(b.Contact.Name + " " + b.Contact.Phone), "Engineer: " + b.Engineer,
		b.Note} {
		if s != "" {
			lines = append(lines, s)
		}
	}
	if b.State == records.BookingCancelled {
		lines = append(lines, fmt.Sprintf("Cancelled: %s", b.Why))
	}
	return strings.Join(lines, "\n")
}
