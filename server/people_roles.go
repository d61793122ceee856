package server

import (
	"net/http"
	"slices"

	"github.com/labstack/echo/v4"
)

// rolesPage says who may do what. Who may is taken from the routes themselves,
// so the page says what the guards do.
type rolesPage struct {
	base
	Groups []abilityGroup
}

// abilityGroup is what one kind of access allows, in sentences that go on
// after a heading such as "Only the owner may".
type abilityGroup struct {
	Who       string
	Yours     bool // the person who is looking belongs to it
	Sentences []string
}

func (s *Server) roles(c echo.Context) error {
	data := rolesPage{base: s.base(c, "Who may do what"), Groups: s.abilityGroups()}
	for i := range data.Groups {
		data.Groups[i].Yours = whoseAbilities[i].access != open && whoseAbilities[i].access.allows(data.Role)
	}
	return s.page(c, http.StatusOK, "roles", data)
}

// whoseAbilities are the groups of the page, each with an access that stands
// for it.
var whoseAbilities = []struct {
	access access
	who    string
}{
	{member, "Everybody who signs in may"},
	{engineers, "Engineers and the owner may also"},
	{desk, "The office and the owner may also"},
	{owners, "Only the owner may"},
	{open, "Customers and others may, without signing in"},
}

// abilityGroups sorts the abilities by who has them.
func (s *Server) abilityGroups() []abilityGroup {
	guards := map[string]access{}
	for _, r := range slices.Concat(s.routes(), s.apiTable()) {
		guards[r.method+" "+r.path] = r.who
		if r.who == visitor {
			guards[r.method+" "+r.path] = open
		}
	}
	groups := make([]abilityGroup, len(whoseAbilities))
	for i, g := range whoseAbilities {
		groups[i].Who = g.who
		for _, a := range abilities {
			if guards[a.routes[0]] == g.access {
				groups[i].Sentences = append(groups[i].Sentences, a.words)
			}
		}
	}
	return groups
}
