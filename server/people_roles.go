package server

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// rolesPage is what each role may do. It is made from the tables of routes
// themselves, so it says what the guards do.
type rolesPage struct {
	web.Base
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

func (s Roles) Show(c echo.Context) error {
	data := rolesPage{Base: s.WideBase(c, "What each role may do"), Roles: records.Roles}
	data.Areas = roleAreas(s.Routes(), "")
	return s.Page(c, http.StatusOK, "roles", data)
}

// roleAreas groups routes by the first word of their path after the prefix.
func roleAreas(routes []web.Route, prefix string) []roleArea {
	byName := map[string]*roleArea{}
	for _, r := range routes {
		words := wordsOf(strings.TrimPrefix(r.Path, prefix))
		name := "today"
		if len(words) > 0 {
			name = words[0]
			words = words[1:]
		}
		if prefix != "" {
			name = "API, with a key: " + name
		}
		verb := map[string]string{http.MethodGet: "see", http.MethodPost: "send", http.MethodPatch: "change"}[r.Method]
		row := roleRow{Words: strings.Join(append([]string{verb}, words...), ", "), Method: r.Method, Path: r.Path,
			Guest: r.Access == web.Open || r.Access == web.Everyone}
		for _, role := range records.Roles {
			row.May = append(row.May, r.Access.Allows(role))
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
