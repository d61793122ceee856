package web

import (
	"bytes"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

// PartHeader names the part of a page that script asks for instead of all.
const PartHeader = "Gaugebook-Part"

// Base is what the layout needs of every page. Each page's data embeds it.
type Base struct {
	Title   string
	Who     string // id of the person signed in, or ""
	Name    string
	Role    records.Role
	Nav     []NavItem
	Flash   string
	Wide    bool // for a desk
	Private bool // keep out of search engines, send no referrer
	Today   records.Date
}

// NavItem is a link of the navigation.
type NavItem struct {
	Href, Text string
	Here       bool
}

// The main navigation, by role, in the order of use.
var navOf = map[records.Role][]NavItem{
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

// Base returns what the layout needs. It takes the sentence kept by Flash.
func (k *Kit) Base(c echo.Context, title string) Base {
	p := Person(c)
	b := Base{Title: title, Who: p.ID, Name: p.Name, Role: p.Role, Today: k.App.Today()}
	if p.ID != "" && c.Request().Header.Get(PartHeader) == "" {
		b.Flash = k.sessions.PopString(c.Request().Context(), keyFlash)
	}
	path := c.Request().URL.Path
	for _, item := range navOf[p.Role] {
		item.Here = path == item.Href || item.Href != "/" && strings.HasPrefix(path, item.Href+"/")
		b.Nav = append(b.Nav, item)
	}
	return b
}

// WideBase is Base for a page as wide as a desk.
func (k *Kit) WideBase(c echo.Context, title string) Base {
	b := k.Base(c, title)
	b.Wide = true
	return b
}

// The statuses of most pages: what was asked for, and a form again with what
// was not accepted.
const (
	OK      = http.StatusOK
	Refused = http.StatusUnprocessableEntity
)

// Page renders a page with a status. Unless a handler says otherwise, caches
// do not keep it: most pages show somebody's home.
func (k *Kit) Page(c echo.Context, status int, name string, data any) error {
	return k.Part(c, status, name, "layout", data)
}

// Part renders one template of a page.
func (k *Kit) Part(c echo.Context, status int, name, part string, data any) error {
	var b bytes.Buffer
	if err := k.pages.Part(&b, name, part, data); err != nil {
		return err
	}
	h := c.Response().Header()
	if h.Get("Cache-Control") == "" {
		h.Set("Cache-Control", "no-store")
	}
	return c.HTMLBlob(status, b.Bytes())
}

// Redirect answers a form with the page to look at next.
func Redirect(c echo.Context, path string) error { return c.Redirect(http.StatusSeeOther, path) }

// Done answers a form that was to change something: with the error, or with
// the page to look at next, which says what was done.
func (k *Kit) Done(c echo.Context, err error, said, next string) error {
	if err != nil {
		return err
	}
	k.Flash(c, said)
	return Redirect(c, next)
}
