package api

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

// applianceLine is an appliance as the register shows it.
type applianceLine struct {
	ID         string         `json:"id"`
	PropertyID string         `json:"property_id"`
	Address    string         `json:"address"`
	Postcode   string         `json:"postcode"`
	Nation     records.Nation `json:"nation"`
	Customer   string         `json:"customer,omitempty"` // name
	Email      string         `json:"email,omitempty"`
	Kind       string         `json:"kind,omitempty"`
	MakeModel  string         `json:"make_model,omitempty"`
	Serial     string         `json:"serial,omitempty"`
	NextDuty   *duty          `json:"next_duty,omitempty"`
	LastRecord *recordLine    `json:"last_record,omitempty"`
	DraftID    string         `json:"draft_id,omitempty"`
}

func applianceLineOf(r store.RegisterRow, today records.Date) applianceLine {
	l := applianceLine{ID: r.ApplianceID, PropertyID: r.PropertyID, Address: r.Address, Postcode: r.Postcode,
		Nation:   r.Nation,
		Customer: r.Name, Email: r.Email, Kind: r.Kind, MakeModel: r.MakeModel, Serial: r.Serial, DraftID: r.DraftID}
	if r.NextDuty != nil {
		d := dutyOf(*r.NextDuty, today)
		l.NextDuty = &d
	}
	if r.LastRecord != nil {
		v := recordLineOf(*r.LastRecord)
		l.LastRecord = &v
	}
	return l
}

// appliances gives a page of the register and where the next one begins.
func (a API) appliances(c echo.Context) error {
	kinds := make([]string, len(records.ApplianceKind.Choices))
	for i, k := range records.ApplianceKind.Choices {
		kinds[i] = k.Code
	}
	q, today := askedOf(c), a.App.Today()
	query := store.Query{
		Search: q.text("search"), Kind: oneOfThese(q, "kind", kinds...),
		Nation: oneOfThese(q, "nation", records.Nations...),
		Duty:   oneOfThese(q, "duty", records.DutyKinds...),
		State:  oneOfThese(q, "state", records.Late, records.Near, records.Ahead, store.NoDuty),
		Sort:   oneOfThese(q, "sort", store.ByDue, store.ByAddress),
		Today:  today, After: q.text("after"), Limit: q.limit(),
	}
	if err := q.err(); err != nil {
		return err
	}
	rows, next, err := a.Store.Register.Find(c.Request().Context(), query)
	if err != nil {
		return err
	}
	out := struct {
		Appliances []applianceLine `json:"appliances"`
		Next       string          `json:"next,omitempty"`
	}{[]applianceLine{}, next}
	for _, r := range rows {
		out.Appliances = append(out.Appliances, applianceLineOf(r, today))
	}
	return reply(c, http.StatusOK, out)
}

// duties gives a page of the open duties by date.
func (a API) duties(c echo.Context) error {
	q, today := askedOf(c), a.App.Today()
	query := store.DutyQuery{Kind: oneOfThese(q, "kind", records.DutyKinds...), DueFrom: q.date("from"),
		DueUntil: q.date("until"),
		After:    q.text("after"), Limit: q.limit()}
	state := oneOfThese(q, "state", records.Late, records.Near, records.Ahead)
	if err := q.err(); err != nil {
		return err
	}
	narrow(&query, state, today)
	duties, next, err := a.Store.Duties.Find(c.Request().Context(), query)
	if err != nil {
		return err
	}
	out := struct {
		Duties []duty `json:"duties"`
		Next   string `json:"next,omitempty"`
	}{[]duty{}, next}
	for _, d := range duties {
		out.Duties = append(out.Duties, dutyOf(d, today))
	}
	return reply(c, http.StatusOK, out)
}

// narrow turns a state into dates, and keeps to the dates asked for where
// those are narrower.
func narrow(q *store.DutyQuery, state records.DutyState, today records.Date) {
	from := func(d records.Date) {
		if q.DueFrom.IsZero() || q.DueFrom.Before(d) {
			q.DueFrom = d
		}
	}
	until := func(d records.Date) {
		if q.DueUntil.IsZero() || q.DueUntil.After(d) {
			q.DueUntil = d
		}
	}
	switch state {
	case records.Late:
		until(today.AddDays(-1))
	case records.Near:
		from(today)
		until(today.AddDays(records.NearDays))
	case records.Ahead:
		from(today.AddDays(records.NearDays + 1))
	}
}
