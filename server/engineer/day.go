package engineer

import (
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// Day is the visits of a day.
type Day struct{ *web.Kit }

// dayPage is an engineer's day, phone first.
type dayPage struct {
	web.Base
	On            records.Date
	Whose         string
	Engineers     []web.Option // for the office to choose from
	Visits        []dayVisit
	Before, After string
}

type dayVisit struct {
	records.Booking
	Window string
	Tel    string
	Shape  records.DutyState
	Starts []web.Option // purposes of the record to start
}

// Show shows an engineer their own visits of a day; the office and the
// owner choose whose.
func (da Day) Show(c echo.Context) error {
	ctx, v, me := c.Request().Context(), c.QueryParams(), web.Person(c)
	on, err := web.DateOf(v, "on", "Day")
	if err != nil {
		return err
	}
	data := dayPage{Base: da.Base(c, "Day"), On: on}
	if on.IsZero() {
		data.On = data.Today
	}
	who := me.ID
	if web.Office.Allows(me.Role) {
		who = v.Get("engineer")
		if data.Engineers, data.Whose, err = da.engineers(c, who); err != nil {
			return err
		}
	}
	list, err := da.Store.Bookings.Between(ctx, who, data.On, data.On)
	if err != nil {
		return err
	}
	for _, b := range list {
		data.Visits = append(data.Visits, da.visitOf(b, me))
	}
	to := func(d records.Date) string {
		link := "/day?on=" + d.String()
		if web.Office.Allows(me.Role) && who != "" {
			link += "&engineer=" + who
		}
		return link
	}
	data.Before, data.After = to(data.On.AddDays(-1)), to(data.On.AddDays(1))
	return da.Page(c, web.OK, "day", data)
}

func (da Day) engineers(c echo.Context, chosen string) (out []web.Option, name string, err error) {
	people, err := da.Store.People.List(c.Request().Context())
	out = append(out, web.Option{Label: "Everybody", Chosen: chosen == ""})
	for _, p := range people {
		if p.Active && p.Role != records.RoleOffice {
			out = append(out, web.Option{Code: p.ID, Label: p.Name, Chosen: p.ID == chosen})
			if p.ID == chosen {
				name = p.Name
			}
		}
	}
	return out, name, err
}

func (da Day) visitOf(b records.Booking, me records.Person) dayVisit {
	v := dayVisit{Booking: b, Window: "Any time", Tel: telOf(b.Contact.Phone), Shape: web.BookingShapes[b.State]}
	if b.From != "" {
		v.Window = b.From + "–" + b.Until
	}
	// A record is of work that has been begun: none is started for a day to
	// come.
	if b.State == records.BookingOpen && web.Engineers.Allows(me.Role) && !b.On.After(da.App.Today()) {
		v.Starts = startsOf(b.Duties)
	}
	return v
}

// startsOf are the purposes that what is due asks for; without any, the
// engineer chooses at the appliance.
func startsOf(duties []records.OpenDuty) []web.Option {
	var out []web.Option
	seen := map[records.Purpose]bool{}
	for _, d := range duties {
		p := map[records.DutyKind]records.Purpose{records.AnnualService: records.Service,
			records.LandlordCheckDue: records.LandlordCheck, records.InhibitorRecheck: records.Service}[d.Duty.Kind]
		if p != "" && !d.Closed() && !seen[p] {
			seen[p] = true
			out = append(out, web.Option{Code: string(p), Label: "Start the " + string(p) + " record"})
		}
	}
	return out
}

// telOf leaves of a telephone number what a tel: link may hold.
func telOf(phone string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' || r == '+' {
			return r
		}
		return -1
	}, phone)
}
