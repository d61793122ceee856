package owner

import (
	"net/url"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/server/web"
)

// Limits is the limits that the owner enters.
type Limits struct{ *web.Kit }

type limitsPage struct {
	web.Base
	Limits []limitLine
	Form   web.Form
}

type limitLine struct{ Rule, Kind, What, Of, Says, Source, By, On string }

func limitsForm() web.Form {
	rule := web.Select("rule", "Limit", []string{}, "Choose").Must()
	rule.Offer(records.OwnersRatio, "CO/CO₂ ratio in use, level of action")
	for _, r := range rules.Guardable() {
		rule.Offer(r.ID, records.SectionByID(r.Section).Title+": "+r.Title)
	}
	kind := web.Select("kind", "Kind of appliance", []string{}, "All kinds").
		Hinted("Needed for a ratio.")
	for _, c := range records.ApplianceKind.Choices {
		kind.Offer(c.Code, c.Label)
	}
	decision := web.Select("decision", "How readings are judged", []records.Decision{records.AsRead, records.Guarded},
		"").
		Hinted("As read: by the reading alone. Guarded: a reading is inside or outside only where that is at least " +
			"95 % likely, allowing for the instrument; otherwise it is too close to call.")
	return web.Form{Action: "/limits", Button: "Save the limit", Inputs: []*web.Input{rule, kind,
		web.TextInput("high", "At most", 12).Hinted("For the CO/CO₂ ratio, such as 0.008. Leave it blank to change " +
			"only how readings are judged."),
		decision, web.TextInput("document", "Document", 200).Hinted("Needed for a ratio."),
		web.TextInput("clause", "Clause or page", 80)}}
}

func (l Limits) show(c echo.Context, status int, form web.Form) error {
	all, err := l.Store.Settings.OwnerLimits(c.Request().Context())
	if err != nil {
		return err
	}
	data := limitsPage{Base: l.Base(c, "Limits of the firm"), Form: form}
	for _, o := range all {
		data.Limits = append(data.Limits, lineOf(o))
	}
	return l.Page(c, status, "limits", data)
}

func lineOf(o records.OwnerLimit) limitLine {
	line := limitLine{Rule: o.Rule, Kind: o.Kind, What: "CO/CO₂ ratio", Of: "all kinds of appliance", By: o.EnteredBy,
		On: o.EnteredOn.Long(), Source: strings.Trim(o.Document+", "+o.Clause, ", ")}
	if r, ok := rules.ByID(o.Rule); ok {
		line.What = r.Title
	}
	if o.Kind != "" {
		line.Of = records.ApplianceKind.ChoiceLabel(o.Kind)
	}
	var says []string
	if o.High != nil {
		says = append(says, "at most "+records.FormatNumber(*o.High, -1))
	}
	if o.Decision != "" {
		says = append(says, "decided "+string(o.Decision))
	}
	line.Says = strings.Join(says, ", ")
	return line
}

// Show lists the limits and asks for another.
func (l Limits) Show(c echo.Context) error { return l.show(c, web.OK, limitsForm()) }

// Save stores a limit.
func (l Limits) Save(c echo.Context) error {
	return l.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return limitsForm(), nil },
		Save: func(v url.Values) (string, error) { return "/limits", l.store(c, v) },
		Said: "Saved. Drafts are judged by it from their next change on.",
		Show: func(status int, f web.Form) error { return l.show(c, status, f) },
	})
}

func (l Limits) store(c echo.Context, v url.Values) error {
	o := records.OwnerLimit{Rule: v.Get("rule"), Kind: v.Get("kind"), Decision: records.Decision(v.Get("decision")),
		Document: v.Get("document"), Clause: v.Get("clause"), EnteredBy: web.Person(c).Name, EnteredOn: l.App.Today()}
	if entry := strings.TrimSpace(v.Get("high")); entry != "" {
		high, err := strconv.ParseFloat(entry, 64)
		if err != nil {
			return &records.Error{Kind: records.Invalid, Field: "high", Label: "At most", Value: entry,
				Want: "a number such as 0.008"}
		}
		o.High = &high
	}
	if _, known := rules.ByID(o.Rule); !known && o.Rule != records.OwnersRatio {
		return &records.Error{Kind: records.Invalid, Field: "rule", Label: "Limit", Value: o.Rule,
			Want: "one of the list"}
	}
	return l.Store.Settings.SaveOwnerLimit(c.Request().Context(), web.ActorOf(c), o)
}

// Remove takes a limit away.
func (l Limits) Remove(c echo.Context) error {
	err := l.Store.Settings.RemoveOwnerLimit(c.Request().Context(), web.ActorOf(c), c.FormValue("rule"),
		c.FormValue("kind"))
	return l.Done(c, err, "Removed.", "/limits")
}
