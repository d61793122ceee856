package server

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

// rawJSON keeps a JSON value as it was sent.
type rawJSON = json.RawMessage

type apiProperty struct {
	ID       string           `json:"id"`
	Property records.Property `json:"property"`
	Customer records.Contact  `json:"customer,omitzero"`
}

func apiPropertyOf(p records.PropertyEntry) apiProperty {
	return apiProperty{p.ID, p.Property, p.Contact}
}

// apiProperties finds the properties of a postcode, so that none is entered
// twice.
func (s *Server) apiProperties(c echo.Context) error {
	q := askedOf(c)
	postcode := q.text("postcode")
	if err := q.err(); err != nil {
		return err
	}
	found, err := s.store.Register.PropertiesIn(c.Request().Context(), postcode)
	if err != nil {
		return err
	}
	out := struct {
		Properties []apiProperty `json:"properties"`
	}{[]apiProperty{}}
	for _, p := range found {
		out.Properties = append(out.Properties, apiPropertyOf(p))
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) apiAddProperty(c echo.Context) error {
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
	return s.once(c, func(ctx context.Context) (int, any, error) {
		p, err := s.store.Register.CreateProperty(ctx, actorOf(c), records.PropertyEntry{Property: in.Property,
			Contact: in.Customer})
		return http.StatusCreated, apiPropertyOf(p), err
	})
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

// apiValues is the fields of the appliance section, without the section's
// name around them.
type apiValues records.Values

// MarshalJSON writes the fields in alphabetical order.
func (v apiValues) MarshalJSON() ([]byte, error) {
	data, err := records.Values(v).MarshalJSON()
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
func (v *apiValues) UnmarshalJSON(data []byte) error {
	var vs records.Values
	if err := vs.UnmarshalJSON([]byte(`{"appliance":` + string(data) + `}`)); err != nil {
		return err
	}
	*v = apiValues(vs)
	return nil
}

type apiApplianceFull struct {
	ID         string           `json:"id"`
	PropertyID string           `json:"property_id"`
	Property   records.Property `json:"property"`
	Customer   records.Contact  `json:"customer,omitzero"`
	Values     apiValues        `json:"values"`
	Retired    bool             `json:"retired"`
	RetiredWhy string           `json:"retired_why,omitempty"`
	Duties     []apiDuty        `json:"duties"`
	History    []apiVisit       `json:"history"`
}

// apiApplianceOf gathers all that is on file of an appliance.
func (s *Server) apiApplianceOf(ctx context.Context, id string) (apiApplianceFull, error) {
	a, err := s.store.Register.Appliance(ctx, id)
	if err != nil {
		return apiApplianceFull{}, err
	}
	duties, err := s.store.Duties.OfAppliance(ctx, id)
	if err != nil {
		return apiApplianceFull{}, err
	}
	history, err := s.store.Records.History(ctx, id)
	if err != nil {
		return apiApplianceFull{}, err
	}
	out := apiApplianceFull{ID: a.ID, PropertyID: a.PropertyID, Property: a.Property, Customer: a.Contact,
		Values: apiValues(a.Values), Retired: a.Retired, RetiredWhy: a.RetiredWhy,
		Duties: []apiDuty{}, History: []apiVisit{}}
	for _, d := range duties {
		out.Duties = append(out.Duties, apiDutyOf(d, s.app.Today()))
	}
	for _, l := range history {
		out.History = append(out.History, apiVisitOf(l))
	}
	return out, nil
}

func (s *Server) apiAppliance(c echo.Context) error {
	out, err := s.apiApplianceOf(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) apiAddAppliance(c echo.Context) error {
	var in struct {
		PropertyID string    `json:"property_id"`
		Values     apiValues `json:"values"`
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
	return s.once(c, func(ctx context.Context) (int, any, error) {
		a, err := s.store.Register.CreateAppliance(ctx, actorOf(c), in.PropertyID, records.Values(in.Values))
		if err != nil {
			return 0, nil, err
		}
		out, err := s.apiApplianceOf(ctx, a.ID)
		return http.StatusCreated, out, err
	})
}

// apiDuty is a duty with how it stands today.
type apiDuty struct {
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

func apiDutyOf(d records.OpenDuty, today records.Date) apiDuty {
	return apiDuty{ID: d.ID, ApplianceID: d.ApplianceID, Appliance: d.Appliance, Address: d.Address, Kind: d.Duty.Kind,
		Due: d.Duty.Due, State: d.StateOn(today), Why: d.Duty.Why,
		Source:   d.Duty.Source,
		RecordID: d.RecordID, ClosedAt: d.ClosedAt, ClosedBy: d.ClosedBy, ClosedWhy: d.ClosedWhy,
		ClosedRecordID: d.ClosedRecordID}
}

// apiVisit is a record as a list shows it.
type apiVisit struct {
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

func apiVisitOf(l store.RecordLine) apiVisit {
	return apiVisit{ID: l.ID, Number: l.Number, Purpose: l.Purpose, Stage: l.Stage, Standing: l.Standing,
		WorkDate: l.WorkDate, Engineer: l.Engineer, Revision: l.Revision, IssuedAt: l.IssuedAt,
		Replaces: l.Replaces, ReplacedBy: l.ReplacedBy, WithdrawnWhy: l.WithdrawnWhy}
}
