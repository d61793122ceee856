package api

import (
	"bytes"
	_ "embed"
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/server/web"
)

//go:embed openapi.yaml
var openapiYAML []byte

// description serves the description of the API.
func (a API) description(c echo.Context) error {
	return c.Blob(http.StatusOK, "application/yaml", openapiYAML)
}

// schema serves the JSON Schema of a record's document.
func (a API) schema(c echo.Context) error {
	return c.Blob(http.StatusOK, "application/schema+json", records.Schema())
}

// RuleLine is a rule as the API and the command line list it.
type RuleLine struct {
	ID       string            `json:"id"`
	Section  records.SectionID `json:"section"`
	Title    string            `json:"title"`
	Purposes []records.Purpose `json:"purposes,omitempty"` // none: every purpose
	Reads    []string          `json:"reads"`
	Limits   []records.Limit   `json:"limits,omitempty"`
	Explains string            `json:"explains"`
}

// RuleLineOf describes a rule.
func RuleLineOf(r rules.Rule) RuleLine {
	l := RuleLine{ID: r.ID, Section: r.Section, Title: r.Title, Purposes: r.Purposes, Reads: []string{},
		Limits: r.Limits, Explains: r.Explains}
	for _, f := range r.Reads {
		l.Reads = append(l.Reads, f.Key)
	}
	return l
}

func (a API) rules(c echo.Context) error {
	all := rules.All()
	out := struct {
		Rules []RuleLine `json:"rules"`
	}{make([]RuleLine, len(all))}
	for i, r := range all {
		out.Rules[i] = RuleLineOf(r)
	}
	return reply(c, http.StatusOK, out)
}

// check judges a record that is sent whole and keeps nothing of it.
func (a API) check(c echo.Context) error {
	var raw rawJSON
	if err := body(c, &raw); err != nil {
		return err
	}
	r, err := records.DecodeRecord(bytes.NewReader(raw))
	if err != nil {
		return err
	}
	bands, err := a.Store.Settings.DropBands(c.Request().Context())
	if err != nil {
		return err
	}
	limits, err := a.Store.Settings.OwnerLimits(c.Request().Context())
	if err != nil {
		return err
	}
	findings := rules.Evaluate(r, records.Facts{DropBands: bands, OwnerLimits: limits})
	return reply(c, http.StatusOK, records.EvaluationOf(findings))
}

// verify answers only for a number and code that belong together; of
// anything else it says no more than that. Whoever looks at nothing but the
// status is not misled.
func (a API) verify(c echo.Context) error {
	if !a.Checks.Allow(web.AddressOf(c)) {
		c.Response().Header().Set("Retry-After", "60")
		return echo.NewHTTPError(http.StatusTooManyRequests, "too many checks from this address; wait a minute")
	}
	v, err := a.App.Verify(c.Request().Context(), web.PathParam(c, "number"),
		records.NormalCode(web.PathParam(c, "code")))
	if err != nil {
		return err
	}
	if !v.Belongs {
		return records.Fail(records.NotFound, "this number and code are not those of one record issued here")
	}
	return reply(c, http.StatusOK, v)
}
