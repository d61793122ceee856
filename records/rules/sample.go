package rules

import (
	"gaugebook/records"
)

// Sample returns an invented commissioning record in which every finding is
// inside or exempt, for examples, documents and tests. Its readings fit each
// other: gas rate and data plate, pipe runs and loss, oxygen and CO2. Each
// call returns a new one.
func Sample() *records.Record {
	r := &records.Record{
		ID: "sample", ApplianceID: "sample-appliance",
		Purpose: records.Commissioning, WorkDate: records.MustDate("2026-11-20"), Stage: records.Draft,
		Property: records.Property{Line1: "14 Larkspur Rise", Town: "Wexmoor", Postcode: "AA7 4TB",
			Nation: records.England},
		Contact: records.Contact{Name: "Imogen Farrow", Email: "imogen.farrow@example.org", Phone: "01632 960114",
			Tenure: records.OwnerOccupier},
		Engineer: records.Engineer{Name: "Tamsin Oakhurst", Licence: "9001234",
			CompetenceUntil: records.MustDate("2028-03-31")},
		Firm: records.Firm{Name: "Tarn Lane Heating", Address: "3 Tanner's Yard, Wexmoor, AA7 1AA",
			Phone: "01632 960100",
			Email: "office@tarnlane.example", Registration: "900123"},
		Instruments: []records.Instrument{
			{ID: "gauge-1", Kind: "gauge", Make: "Quillmere", Model: "P20", Serial: "QM-20417",
				CalibratedOn: records.MustDate("2026-05-04"), CalibrationDue: records.MustDate("2027-05-04")},
			{ID: "analyser-1", Kind: "analyser", Make: "Quillmere", Model: "F4", Serial: "QM-77120",
				CalibratedOn: records.MustDate("2026-06-15"), CalibrationDue: records.MustDate("2027-06-15")},
		},
		Values: records.Values{},
	}
	for _, t := range topics {
		for field, text := range t.sample {
			r.Values.Put(field, text)
		}
		for field, rows := range t.rows {
			r.Values.PutRows(*field, rows...)
		}
	}
	return r
}
