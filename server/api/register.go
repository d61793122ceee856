package api

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

// rawJSON keeps a JSON value as it was sent.
type rawJSON = json.RawMessage

type property struct {
	ID       string           `json:"id"`
	Property records.Property `json:"property"`
	Customer records.Contact  `json:"customer,omitzero"`
}

func propertyOf(p records.PropertyEntry) property {
	return property{p.ID, p.Property, p.Contact}
}

// properties finds the properties of a postcode, so that none is entered
// twice.
func (a API) properties(c echo.Context) error {
	q := askedOf(c)
	postcode := q.text("postcode")
	if err := q.err(); err != nil {
		return err
	}
	found, err := a.Store.Register.PropertiesIn(c.Request().Context(), postcode)
	if err != nil {
		return err
	}
	out := struct {
		Properties []property `json:"properties"`
	}{[]property{}}
	for _, p := range found {
		out.Properties = append(out.Properties, propertyOf(p))
	}
	return reply(c, http.StatusOK, out)
}

func (a API) addProperty(c echo.Context) error {
	var in struct {
		Property records.Property `json:"property"`
		Customer records.Contact  `json:"customer"`
	}
	if err := body(c, &in); err != nil {
		return err
	}
	var errs records.Errors
	_, err := in.Property.Checked()
	errs = append(errs, under("property.", err)...)
	if in.Customer != (records.Contact{}) {
		_, err = in.Customer.Checked()
		errs = append(errs, under("customer.", err)...)
	}
	if len(errs) > 0 {
		return errs
	}
	return a.once(c, deed{"property added", func(ctx context.Context) (string, error) {
		p, err := a.Store.Register.CreateProperty(ctx, web.ActorOf(c), records.PropertyEntry{Property: in.Property,
			Contact: in.Customer})
		return p.ID, err
	}, func(ctx context.Context, id string) (int, any, error) {
		p, err := a.Store.Register.Property(ctx, id)
		return http.StatusCreated, propertyOf(p), err
	}})
}

// under names fields as they stand in the request.
func under(prefix string, err error) records.Errors {
	var errs records.Errors
	errors.As(err, &errs)
	for _, e := range errs {
		e.Field = prefix + e.Field
	}
	return errs
}

// applianceValues is the fields of the appliance section, without the section's
// name around them.
type applianceValues records.Values

// MarshalJSON writes the fields in alphabetical order.
func (a applianceValues) MarshalJSON() ([]byte, error) {
	data, err := records.Values(a).MarshalJSON()
	if err != nil {
		return nil, err
	}
	var sections map[records.SectionID]rawJSON
	if err := json.Unmarshal(data, &sections); err != nil {
		return nil, err
	}
	if own := sections[records.ApplianceSection.ID]; own != nil {
		return own, nil
	}
	return []byte("{}"), nil
}

// UnmarshalJSON reads the fields; what it refuses is named as in a record.
func (a *applianceValues) UnmarshalJSON(data []byte) error {
	var vs records.Values
	if err := vs.UnmarshalJSON([]byte(`{"appliance":` + string(data) + `}`)); err != nil {
		return err
	}
	*a = applianceValues(vs)
	return nil
}

type applianceBody struct {
	ID         string           `json:"id"`
	PropertyID string           `json:"property_id"`
	Property   records.Property `json:"property"`
	Customer   records.Contact  `json:"customer,omitzero"`
	Values     applianceValues  `json:"values"`
	Retired    bool             `json:"retired"`
	RetiredWhy string           `json:"retired_why,omitempty"`
	Duties     []duty           `json:"duties"`
	History    []recordLine     `json:"history"`
}

// applianceOf gathers all that is on file of an appliance.
func (a API) applianceOf(ctx context.Context, id string) (applianceBody, error) {
	found, err := a.Store.Register.Appliance(ctx, id)
	if err != nil {
		return applianceBody{}, err
	}
	duties, err := a.Store.Duties.OfAppliance(ctx, id)
	if err != nil {
		return applianceBody{}, err
	}
	history, err := a.Store.Records.History(ctx, id)
	if err != nil {
		return applianceBody{}, err
	}
	out := applianceBody{ID: found.ID, PropertyID: found.PropertyID, Property: found.Property, Customer: found.Contact,
		Values: applianceValues(found.Values), Retired: found.Retired, RetiredWhy: found.RetiredWhy,
		Duties: []duty{}, History: []recordLine{}}
	for _, d := range duties {
		out.Duties = append(out.Duties, dutyOf(d, a.App.Today()))
	}
	for _, l := range history {
		out.History = append(out.History, recordLineOf(l))
	}
	return out, nil
}

func (a API) appliance(c echo.Context) error {
	out, err := a.applianceOf(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, out)
}

func (a API) addAppliance(c echo.Context) error {
	var in struct {
		PropertyID string          `json:"property_id"`
		Values     applianceValues `json:"values"`
	}
	if err := body(c, &in); err != nil {
		return err
	}
	if err := mustSay("property_id", in.PropertyID, "the id of a property"); err != nil {
		return err
	}
	kind := records.ApplianceKind
	if err := mustSay(kind.Key, records.Values(in.Values).Choice(kind), kind.Accepts()); err != nil {
		return err
	}
	return a.once(c, deed{"appliance added", func(ctx context.Context) (string, error) {
		made, err := a.Store.Register.CreateAppliance(ctx, web.ActorOf(c), in.PropertyID, records.Values(in.Values))
		return made.ID, err
	}, func(ctx context.Context, id string) (int, any, error) {
		out, err := a.applianceOf(ctx, id)
		return http.StatusCreated, out, err
	}})
}

// duty is a duty with how it stands today.
type duty struct {
	ID             string            `json:"id"`
	ApplianceID    string            `json:"appliance_id"`
	Appliance      string            `json:"appliance,omitempty"` // make and model
	Address        string            `json:"address"`
	Kind           records.DutyKind  `json:"kind"`
	Due            records.Date      `json:"due"`
	State          records.DutyState `json:"state"`
	Why            string            `json:"why"`
	Source         records.Source    `json:"source"`
	RecordID       string            `json:"record_id,omitempty"`
	ClosedAt       time.Time         `json:"closed_at,omitzero"`
	ClosedBy       string            `json:"closed_by,omitempty"`
	ClosedWhy      string            `json:"closed_why,omitempty"`
	ClosedRecordID string            `json:"closed_record_id,omitempty"`
}

func dutyOf(d records.OpenDuty, today records.Date) duty {
	return duty{ID: d.ID, ApplianceID: d.ApplianceID, Appliance: d.Appliance, Address: d.Address, Kind: d.Duty.Kind,
		Due: d.Duty.Due, State: d.StateOn(today), Why: d.Duty.Why,
		Source:   d.Duty.Source,
		RecordID: d.RecordID, ClosedAt: d.ClosedAt, ClosedBy: d.ClosedBy, ClosedWhy: d.ClosedWhy,
		ClosedRecordID: d.ClosedRecordID}
}

// recordLine is a record as a list shows it.
type recordLine struct {
	ID           string           `json:"id"`
	Number       string           `json:"number,omitempty"`
	Purpose      records.Purpose  `json:"purpose"`
	Stage        records.Stage    `json:"stage"`
	Standing     records.Standing `json:"standing"`
	WorkDate     records.Date     `json:"work_date"`
	Engineer     string           `json:"engineer"`
	Revision     int              `json:"revision"`
	IssuedAt     time.Time        `json:"issued_at,omitzero"`
	Replaces     string           `json:"replaces,omitempty"`
	ReplacedBy   string           `json:"replaced_by,omitempty"`
	WithdrawnWhy string           `json:"withdrawn_why,omitempty"`
}

func recordLineOf(l store.RecordLine) recordLine {
	return recordLine{ID: l.ID, Number: l.Number, Purpose: l.Purpose, Stage: l.Stage, Standing: l.Standing,
		WorkDate: l.WorkDate, Engineer: l.Engineer, Revision: l.Revision, IssuedAt: l.IssuedAt,
		Replaces: l.Replaces, ReplacedBy: l.ReplacedBy, WithdrawnWhy: l.WithdrawnWhy}
}
