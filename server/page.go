package server

import (
	"bytes"
	"net/http"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/templates"
)

// partHeader names the part of a page that script asks for instead of all.
const partHeader = "Gaugebook-Part"

// base is what the layout needs of every page. Each page's data embeds it.
type base struct {
	Title   string
	Who     string // id of the person signed in, or ""
	Name    string
	Role    records.Role
	Nav     []navItem
	Flash   string
	Wide    bool // a desk page
	Private bool // keep out of search engines, send no referrer
	Today   records.Date
}

type navItem struct {
	Href, Text string
	Here       bool
}

// The main navigation, by role, in the order of use.
var navOf = map[records.Role][]navItem{
	records.RoleEngineer: {{Href: "/", Text: "Today"}, {Href: "/day", Text: "Visits"}, {Href: "/find", Text: "Find"},
		{Href: "/instruments", Text: "Instruments"}},
	records.RoleOffice: {{Href: "/", Text: "Today"}, {Href: "/week", Text: "Week"},
		{Href: "/register", Text: "Register"},
		{Href: "/overview", Text: "Overview"}, {Href: "/find", Text: "Find"}, {Href: "/messages", Text: "Messages"},
		{Href: "/instruments", Text: "Instruments"}},
	records.RoleOwner: {{Href: "/", Text: "Today"}, {Href: "/week", Text: "Week"},
		{Href: "/register", Text: "Register"},
		{Href: "/overview", Text: "Overview"}, {Href: "/find", Text: "Find"}, {Href: "/messages", Text: "Messages"},
		{Href: "/instruments", Text: "Instruments"}, {Href: "/firm", Text: "Firm"}},
}

func (s *Server) base(c echo.Context, title string) base {
	p := person(c)
	b := base{Title: title, Who: p.ID, Name: p.Name, Role: p.Role, Today: s.app.Today()}
	if p.ID != "" && c.Request().Header.Get(partHeader) == "" {
		b.Flash = s.sessions.PopString(c.Request().Context(), keyFlash)
	}
	path := c.Request().URL.Path
	for _, item := range navOf[p.Role] {
		item.Here = path == item.Href || item.Href != "/" && strings.HasPrefix(path, item.Href+"/")
		b.Nav = append(b.Nav, item)
	}
	return b
}

func (s *Server) deskBase(c echo.Context, title string) base {
	b := s.base(c, title)
	b.Wide = true
	return b
}

// page renders a page with a status. Unless a handler says otherwise, caches
// do not keep it: most pages show somebody's home.
func (s *Server) page(c echo.Context, status int, name string, data any) error {
	return s.part(c, status, name, "layout", data)
}

// part renders one template of a page.
func (s *Server) part(c echo.Context, status int, name, part string, data any) error {
	var b bytes.Buffer
	if err := s.pages.Part(&b, name, part, data); err != nil {
		return err
	}
	h := c.Response().Header()
	if h.Get("Cache-Control") == "" {
		h.Set("Cache-Control", "no-store")
	}
	return c.HTMLBlob(status, b.Bytes())
}

// see answers a form with the page to look at next.
func see(c echo.Context, path string) error { return c.Redirect(http.StatusSeeOther, path) }

// cutVersion takes the hash of the static files off a path.
func cutVersion(name string) (string, bool) {
	return strings.CutPrefix(name, templates.StaticVersion+"/")
}

// clock writes an instant as a time where the firm works; today needs no date.
func (s *Server) clock(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	if t = t.In(s.app.Zone); records.DateOf(t) == s.app.Today() {
		return t.Format("15:04")
	}
	return s.fullClock(t)
}

// fullClock always names the day, for what is kept or printed.
func (s *Server) fullClock(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(s.app.Zone).Format("2 January 2006, 15:04")
}
