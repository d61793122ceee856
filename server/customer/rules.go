package customer

import (
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/server/web"
)

// Rules is the rules and their sources.
type Rules struct{ *web.Kit }

type rulesPage struct {
	web.Base
	Sections []ruleSection
}

type ruleSection struct {
	Title string
	Rules []ruleLine
}

type ruleLine struct{ ID, Title, Limits string }

type rulePage struct {
	web.Base
	Rule         rules.Rule
	SectionTitle string
	Example      records.Finding
}

// List lists every rule, made from the rules themselves.
func (ru Rules) List(c echo.Context) error {
	data := rulesPage{Base: ru.Base(c, "Rules and sources")}
	for _, sec := range records.Sections {
		group := ruleSection{Title: sec.Title}
		for _, r := range rules.All() {
			if r.Section == sec.ID {
				group.Rules = append(group.Rules, ruleLine{r.ID, r.Title, limitWords(r.Limits)})
			}
		}
		if group.Rules != nil {
			data.Sections = append(data.Sections, group)
		}
	}
	return ru.Page(c, web.OK, "rules", data)
}

// Show shows one rule with an example that is computed as it is shown.
func (ru Rules) Show(c echo.Context) error {
	r, ok := rules.ByID(c.Param("rule"))
	if !ok {
		return records.Fail(records.NotFound, "there is no such rule")
	}
	data := rulePage{Base: ru.Base(c, r.Title), Rule: r, SectionTitle: records.SectionByID(r.Section).Title,
		Example: rules.Example(r.ID)}
	return ru.Page(c, web.OK, "rule", data)
}

// limitWords lists the limits without repeating those that several editions
// share; the sources stand on the rule's own page.
func limitWords(ls []records.Limit) string {
	const most = 4
	var words []string
	for _, l := range ls {
		if !slices.Contains(words, l.Text) {
			words = append(words, l.Text)
		}
	}
	switch n := len(words); {
	case n == 0:
		return "No general limit"
	case n > most:
		return strings.Join(words[:most], "; ") + "; and " + records.FormatNumber(float64(n-most), 0) + " more"
	}
	return strings.Join(words, "; ")
}
