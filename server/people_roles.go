package server

import (
	"cmp"
	"gaugebook/records"
	"net/http"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"
)

// rolesPage is what each role may do. It is made from the tables of routes
// themselves, so it says what the guards do.
type rolesPage struct {
	base
	Roles []records.Role
	Areas []roleArea
}

type roleArea struct {
	Name string
	Rows []roleRow
}

type roleRow struct {
	Words, Method, Path string
	Guest               bool
	May                 []bool // in the order of store.Roles
}

func (s *Server) roles(c echo.Context) error {
	data := rolesPage{base: s.deskBase(c, "What each role may do"), Roles: records.Roles}
	data.Areas = append(roleAreas(s.routes(), ""), roleAreas(s.apiTable(), "/api/v1")...)
	return s.page(c, http.StatusOK, "roles", data)
}

// roleAreas groups routes by the first word of their path after the prefix.
func roleAreas(routes []route, prefix string) []roleArea {
	byName := map[string]*roleArea{}
	for _, r := range routes {
		words := wordsOf(strings.TrimPrefix(r.path, prefix))
		name := "today"
		if len(words) > 0 {
			name = words[0]
			words = words[1:]
		}
		if prefix != "" {
			name = "API, with a key: " + name
		}
		verb := map[string]string{get: "see", post: "send", patch: "change"}[r.method]
		row := roleRow{Words: strings.Join(append([]string{verb}, words...), ", "), Method: r.method, Path: r.path,
			Guest: r.who == open || r.who == visitor}
		for _, role := range records.Roles {
			row.May = append(row.May, r.who.allows(role))
		}
		if byName[name] == nil {
			byName[name] = &roleArea{Name: name}
		}
		byName[name].Rows = append(byName[name].Rows, row)
	}
	var out []roleArea
	for _, a := range byName {
		out = append(out, *a)
	}
	slices.SortFunc(out, func(a, b roleArea) int { return cmp.Compare(a.Name, b.Name) })
	return out
}

// wordsOf leaves of a path the words, without its parameters.
func wordsOf(path string) []string {
	return slices.DeleteFunc(strings.Split(strings.ReplaceAll(path, "-", " "), "/"), func(s string) bool {
		return s == "" || s == "*" || strings.HasPrefix(s, ":")
	})
}
