package demo

import (
	"context"
	"fmt"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
)

// spoil is something that was wrong on a visit, and how it was answered.
type spoil struct {
	change      func(records.Values)
	class       records.Class
	found, done string
	reason      string // why it is less grave than its rule suggests
}

var spoils = map[string]spoil{
	"ratio": {
		change: func(vs records.Values) { vs.Put(records.COMaxPPM.Field, "940") },
		class:  records.AtRisk,
		found:  "CO at maximum rate stayed at 940 ppm after the burner was cleaned. Fan inlet damaged.",
		done: "Appliance turned off with the customer's agreement and labelled. New fan ordered; not to be used " +
			"until it is fitted and combustion is read again.",
	},
	"joints": {
		change: func(vs records.Values) { vs.Put(records.FlueJoints.Field, "no") },
		class:  records.AtRisk,
		found:  "Seal of the elbow at the wall has come away; products can reach the loft.",
		done: "Elbow and seal renewed from the van and the joint checked again, but the loft above could not be " +
			"entered. Turned off and labelled until it is.",
	},
	"drop": {
		change: func(vs records.Values) {
			vs.Put(records.ApplianceMbar.Field, "18.9")
			vs.Put(records.MeterMbar.Field, "20.9")
		},
		class: records.Observation,
		found: "2.0 mbar lost along the pipe at full rate. Gas rate and combustion are inside their limits.",
		done: "Manufacturer's helpline asked: inlet pressure acceptable for this rate. Customer advised to have " +
			"the 15 mm length replaced.",
		reason: "The manufacturer's helpline accepts 18.9 mbar at the appliance, and heat input and combustion are " +
			"right.",
	},
}

// attend makes one visit, by the same steps as an engineer would.
func (f *filler) attend(ctx context.Context, v visit) error {
	f.Clock.to(f.at(v.on, 9))
	if v.paperwork {
		return f.paperwork(ctx, v.applianceID)
	}
	if err := f.calibrate(ctx, v.on); err != nil {
		return err
	}
	who := f.people[v.engineer]
	r, err := f.app.Start(ctx, who, v.applianceID, v.purpose, v.on)
	if err != nil {
		return err
	}
	readings := v.model.visit(f.rng, v.on, v.purpose, who.Name, v.place.name)
	bad, spoiled := spoils[v.spoil]
	if spoiled {
		bad.change(readings)
	}
	if v.leave == "half" {
		f.Clock.to(f.at(v.on, 11))
		_, err = f.app.SaveChange(ctx, who, r.ID, r.Revision,
			app.Change{Values: only(readings, "tightness", "pressure")})
		return err
	}
	f.Clock.to(f.at(v.on, 14))
	if r, err = f.app.SaveChange(ctx, who, r.ID, r.Revision, app.Change{Values: readings}); err != nil {
		return err
	}
	if v.leave == "ready" {
		return nil
	}
	if r, err = f.answer(ctx, who, r, bad, spoiled); err != nil {
		return err
	}
	f.Clock.to(f.at(v.on, 16))
	row, err := f.app.Issue(ctx, who, r.ID, r.Revision)
	if err != nil {
		return err
	}
	if err := f.sendDue(ctx); err != nil {
		return err
	}
	if err := f.afterwards(ctx, who, v, row); err != nil {
		return err
	}
	return f.sendDue(ctx)
}

// paperwork is what the office does some days after a visit.
func (f *filler) paperwork(ctx context.Context, applianceID string) error {
	office := records.Actor{ID: f.people["Silas"].ID, Name: f.people["Silas"].Name}
	duties, err := f.Store.Duties.OfAppliance(ctx, applianceID)
	if err != nil {
		return err
	}
	how := map[records.DutyKind]string{
		records.BuildingNotice: "Notified through the registration body.",
		records.TenantCopy:     "Copy e-mailed to the tenant.",
	}
	for _, d := range duties {
		if text, ours := how[d.Duty.Kind]; ours && !d.Closed() {
			if err := f.Store.Duties.Finish(ctx, office, d.ID, text); err != nil {
				return err
			}
		}
	}
	return nil
}

// answer writes the condition report where a finding is not settled. That a
// visit meant to be clear is not is a fault of the demo, so it fails.
func (f *filler) answer(ctx context.Context, who records.Person, r *records.Record, bad spoil,
	spoiled bool) (*records.Record, error) {
	open := records.Unsettled(r.Findings)
	if len(open) == 0 && !spoiled {
		return r, nil
	}
	if !spoiled || len(open) == 0 {
		return nil, fmt.Errorf("findings are not as planned: %+v", open)
	}
	report := records.ConditionReport{Told: r.Contact.Name, ToldHow: "in person, notice left on site",
		LeftOff: bad.class != records.Observation}
	for _, o := range open {
		report.Entries = append(report.Entries, records.ConditionEntry{Rule: o.Rule, Class: bad.class,
			Found: bad.found, Done: bad.done, Reason: bad.reason})
	}
	return f.app.SaveCondition(ctx, who, r.ID, r.Revision, report)
}

// afterwards is what became of some records after they were issued.
func (f *filler) afterwards(ctx context.Context, who records.Person, v visit, row store.IssuedRow) error {
	switch v.after {
	case "amend":
		f.Clock.to(f.at(v.on.AddDays(1), 9))
		r, err := f.app.Amend(ctx, who, row.ID,
			"Serial number was read wrongly: the last two figures were changed over.")
		if err != nil {
			return err
		}
		serial := []rune(r.Values.Text(records.ApplianceSerial))
		n := len(serial)
		serial[n-1], serial[n-2] = serial[n-2], serial[n-1]
		fixed := records.Values{}
		fixed.Put(records.ApplianceSerial.Field, string(serial))
		fixed.Put(records.Declared.Field, "yes")
		if r, err = f.app.SaveChange(ctx, who, r.ID, r.Revision, app.Change{Values: fixed}); err != nil {
			return err
		}
		_, err = f.app.Issue(ctx, who, r.ID, r.Revision)
		return err
	case "withdraw":
		f.Clock.to(f.at(v.on.AddDays(2), 10))
		return f.app.Withdraw(ctx, f.people["Silas"], row.ID,
			"Issued against the wrong appliance at this address; the visit is entered again.")
	}
	return nil
}

// only keeps the values of some sections.
func only(vs records.Values, sections ...records.SectionID) records.Values {
	out := records.Values{}
	for key, v := range vs {
		for _, s := range sections {
			if f := records.FieldByKey(key); f.Section() == s {
				out[key] = v
			}
		}
	}
	return out
}

// today leaves the traces of office work: calls made, letters sent, a duty
// lifted, a customer's request.
func (f *filler) today(ctx context.Context) error {
	if err := f.calibrate(ctx, f.Today); err != nil {
		return err
	}
	office := records.Actor{ID: f.people["Silas"].ID, Name: f.people["Silas"].Name}
	rows, _, err := f.Store.Register.Find(ctx, store.Query{State: records.Late, Today: f.Today, Limit: 4})
	if err != nil {
		return err
	}
	notes := []struct{ how, text string }{
		{"telephone", "No answer; message left with the date the service fell due."},
		{"letter", "Second letter sent."},
		{"telephone", "Will be away until the end of the month; call again then."},
		{"e-mail", "Asked for a morning visit."},
	}
	for i, row := range rows {
		if _, err := f.Store.Chase.AddContactAttempt(ctx, office, row.ApplianceID, notes[i].how, notes[i].text,
			f.Today.AddDays(3+4*i)); err != nil {
			return err
		}
	}
	if len(rows) == len(notes) {
		duties, err := f.Store.Duties.OfAppliance(ctx, rows[3].ApplianceID)
		if err != nil {
			return err
		}
		for _, d := range duties {
			if !d.Closed() && d.Duty.Kind == records.AnnualService {
				if err := f.Store.Duties.Lift(ctx, office, d.ID,
					"Customer has the appliance serviced by its manufacturer from this year on."); err != nil {
					return err
				}
			}
		}
	}
	return f.bookAndRemind(ctx)
}
