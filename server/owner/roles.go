package owner

import (
	"slices"

	"github.com/labstack/echo/v4"

	"gaugebook/server/web"
)

// Roles is the page of who may do what.
type Roles struct {
	*web.Kit
	Routes func() []web.Route
}

// rolesPage says who may do what. Who may is taken from the routes themselves,
// so the page says what the guards do.
type rolesPage struct {
	web.Base
	Groups []abilityGroup
}

// abilityGroup is what one kind of access allows, in sentences that go on
// after a heading such as "Only the owner may".
type abilityGroup struct {
	Who       string
	Yours     bool // the person who is looking belongs to it
	Sentences []string
}

func (r Roles) Show(c echo.Context) error {
	data := rolesPage{Base: r.Base(c, "Who may do what"), Groups: abilityGroups(r.Routes())}
	for i := range data.Groups {
		data.Groups[i].Yours = whoseAbilities[i].access != web.Open && whoseAbilities[i].access.Allows(data.Role)
	}
	return r.Page(c, web.OK, "roles", data)
}

// whoseAbilities are the groups of the page, each with an access that stands
// for it.
var whoseAbilities = []struct {
	access web.Access
	who    string
}{
	{web.SignedIn, "Everybody who signs in may"},
	{web.Engineers, "Engineers and the owner may also"},
	{web.Office, "The office and the owner may also"},
	{web.Owners, "Only the owner may"},
	{web.Open, "Customers and others may, without signing in"},
}

// abilityGroups sorts what the routes are for by who may use them.
func abilityGroups(routes []web.Route) []abilityGroup {
	groups := make([]abilityGroup, len(whoseAbilities))
	for i, g := range whoseAbilities {
		groups[i].Who = g.who
		for _, r := range routes {
			open := g.access == web.Open && r.Access == web.Everyone
			if r.May != web.ByPrograms && (r.Access == g.access || open) &&
				!slices.Contains(groups[i].Sentences, r.May) {
				groups[i].Sentences = append(groups[i].Sentences, r.May)
			}
		}
	}
	return groups
}
