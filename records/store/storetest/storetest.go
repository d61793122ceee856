// Package storetest opens databases for tests and fills them. All names and
// addresses in it are invented.
package storetest

import (
	"context"
	"crypto/ed25519"
	"fmt"
	"sync"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
)

// Start is the time at which a Clock begins.
var Start = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

// Actor does everything that a fixture does.
var Actor = records.Actor{ID: "p-1", Name: "Rhona Tweddle"}

// Key signs the records that Issue issues. It is made from a constant and
// protects nothing.
var Key = ed25519.NewKeyFromSeed([]byte("storetest key, protects nothing."))

// Clock goes on by one millisecond each time it is read.
type Clock struct {
	mu  sync.Mutex
	now time.Time
}

// NewClock returns a clock that begins at Start.
func NewClock() *Clock { return &Clock{now: Start} }

// Now returns the time.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(time.Millisecond)
	return c.now
}

// Set moves the clock.
func (c *Clock) Set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = t
}

// Property returns the nth of a row of invented houses.
func Property(n int) records.PropertyEntry {
	return records.PropertyEntry{
		Property: records.Property{Line1: fmt.Sprintf("%d Quillwater Lane", n), Town: "Ambershaw", Postcode: "AB12 3XY",
			Nation: records.England},
		Contact: records.Contact{Name: fmt.Sprintf("Customer Numbered %d", n),
			Email: fmt.Sprintf("customer%d@home.example", n), Tenure: records.OwnerOccupier},
	}
}

// ApplianceValues returns the appliance section of an invented boiler.
func ApplianceValues(n int) records.Values {
	vs := records.Values{}
	vs.Put(records.ApplianceKind.Field, records.KindCombination)
	vs.Put(records.ApplianceMake.Field, "Emberline")
	vs.Put(records.ApplianceModel.Field, "Hearth 24")
	vs.Put(records.ApplianceSerial.Field, fmt.Sprintf("EH-%06d", n))
	vs.Put(records.ApplianceFuel.Field, records.FuelNatural)
	return vs
}

// MustAppliance adds a property with an appliance.
func MustAppliance(tb testing.TB, s *store.Store, n int) store.Appliance {
	tb.Helper()
	ctx := context.Background()
	p, err := s.Register.CreateProperty(ctx, Actor, Property(n))
	if err != nil {
		tb.Fatal(err)
	}
	a, err := s.Register.CreateAppliance(ctx, Actor, p.ID, ApplianceValues(n))
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

// Draft returns an unsaved record of a visit that can be issued.
func Draft(applianceID string, purpose records.Purpose, work string) *records.Record {
	return &records.Record{
		ApplianceID: applianceID, Purpose: purpose, WorkDate: records.MustDate(work),
		Engineer: records.Engineer{Name: Actor.Name, Licence: "7000001"},
		Firm:     records.Firm{Name: "Tweddle and Daughter Heating"},
		Findings: []records.Finding{{Rule: "tightness.drop", Section: "tightness", Title: "Drop",
			Outcome: records.Inside, Reading: "0.0 mbar"}},
	}
}

// MustDraft starts a draft that can be issued.
func MustDraft(tb testing.TB, s *store.Store, applianceID string, purpose records.Purpose,
	work string) *records.Record {
	tb.Helper()
	r, err := s.Records.StartDraft(context.Background(), Actor, Draft(applianceID, purpose, work))
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// Issuer issues drafts as they are, with the duties given.
func Issuer(duties ...records.Duty) store.Issuer {
	return store.Issuer{
		Plan: func(b store.Basis) (store.Plan, error) {
			draft := b.Draft
			p := store.Plan{Issued: records.Issued{Number: b.Number, IssuedAt: b.At, Record: draft,
				Findings: draft.Findings, Standing: records.StandingOf(draft.Findings), Duties: duties,
				Earlier: b.Visits, Log: b.Log}}
			var err error
			if p.Canonical, err = p.Issued.Canonical(); err != nil {
				return p, err
			}
			p.Seal = records.SealOf(p.Canonical, Key)
			return p, nil
		},
		Draw: Draw,
		Key:  Key,
	}
}

// Draw stands for the print of a record: no two records have the same.
func Draw(p store.Plan) ([]byte, error) {
	return []byte("%PDF-1.7 " + p.Issued.Number + " " + p.Seal.SHA256), nil
}

// ServiceDue returns a duty of an annual service.
func ServiceDue(due string) records.Duty {
	return records.Duty{Kind: records.AnnualService, Due: records.MustDate(due), Why: "twelve months after the visit",
		Source: records.Source{Document: "Common practice", Confidence: records.Practice}}
}

// MustIssue starts and issues a record.
func MustIssue(tb testing.TB, s *store.Store, applianceID string, purpose records.Purpose, work string,
	duties ...records.Duty) store.IssuedRow {
	tb.Helper()
	r := MustDraft(tb, s, applianceID, purpose, work)
	out, _, err := s.Records.Issue(context.Background(), Actor, r.ID, r.Revision, Issuer(duties...))
	if err != nil {
		tb.Fatal(err)
	}
	return out
}
