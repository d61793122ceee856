package store_test

import (
	"fmt"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// basisOf is what a draft is planned on.
func basisOf(t *testing.T, s *store.Store, r *records.Record) (b store.Basis) {
	t.Helper()
	plain := storetest.Issuer()
	stop := plain
	stop.Plan = func(on store.Basis) (store.Plan, error) {
		b = on
		return store.Plan{}, fmt.Errorf("looked at")
	}
	if _, _, err := s.Records.Issue(ctx, by, r.ID, r.Revision, stop); err == nil {
		t.Fatal("issued")
	}
	return b
}

// read is a draft of a visit with a reading of its own.
func withReading(t *testing.T, s *store.Store, applianceID, work, mbar string) *records.Record {
	t.Helper()
	d := storetest.Draft(applianceID, records.Service, work)
	d.Values = records.Values{}
	d.Values.Put(records.ApplianceMbar.Field, mbar)
	return must(s.Records.StartDraft(ctx, by, d))
}

func TestBasisHoldsTheEarlierVisits(t *testing.T) {
	s, a := withAppliance(t)
	issue := func(work, mbar string) store.IssuedRow {
		r := withReading(t, s, a.ID, work, mbar)
		return mustIssue(t, s, r.ID, r.Revision)
	}
	if b := basisOf(t, s, withReading(t, s, a.ID, "2019-01-01", "20.0")); len(b.Earlier)+len(b.Visits) > 0 ||
		b.Number != "2026-00001" || b.At != storetest.Start || b.Contact != a.Contact || b.Property != a.Property {
		t.Errorf("the first visit goes by %+v", b)
	}
	var rows []store.IssuedRow
	for i := range 8 {
		rows = append(rows, issue(fmt.Sprintf("20%d-11-01", 18+i), fmt.Sprintf("20.%d", i)))
	}
	ok(t, s.Records.Withdraw(ctx, by, rows[6].ID, "wrong house"))
	issue("2026-11-24", "21.9") // after the visit that is looked at
	b := basisOf(t, s, withReading(t, s, a.ID, "2026-11-20", "20.9"))
	got := ""
	for _, v := range b.Visits {
		got += fmt.Sprint(v.WorkDate.String()[:4], " ", v.Readings[records.ApplianceMbar.Key], ", ")
	}
	if want := "2019 20.1, 2020 20.2, 2021 20.3, 2022 20.4, 2023 20.5, 2025 20.7, "; got != want {
		t.Errorf("visits %s, want %s", got, want)
	}
	// What a new one is compared with is the latest in force, whenever it was.
	if got := b.Facts().Earlier[records.ApplianceMbar.Key].Text(); got != "21.9" {
		t.Errorf("compared with %s", got)
	}
	// An amendment is compared neither with the record it replaces nor with later ones.
	d := storetest.Draft(a.ID, records.Service, "2025-11-01")
	d.Replaces, d.AmendReason = rows[7].Number, "a slip"
	b = basisOf(t, s, must(s.Records.StartDraft(ctx, by, d)))
	if n := len(b.Visits); n != 6 || b.Visits[n-1].Number != rows[5].Number {
		t.Errorf("the amendment shows %+v", b.Visits)
	}
	if b.Number != records.NumberOf(2026, 10) {
		t.Errorf("number %s", b.Number)
	}
}

func TestBasisHoldsTheLandlordDeadline(t *testing.T) {
	s, a := withAppliance(t)
	check := func(work, due string) store.IssuedRow {
		return storetest.MustIssue(t, s, a.ID, records.LandlordCheck, work, duty(records.LandlordCheckDue, due))
	}
	deadline := func(replaces string) string {
		d := storetest.Draft(a.ID, records.LandlordCheck, "2026-11-20")
		d.Replaces, d.AmendReason = replaces, replaces
		return basisOf(t, s, must(s.Records.StartDraft(ctx, by, d))).LandlordDeadline.String()
	}
	if got := deadline(""); got != "" {
		t.Errorf("with nothing on file: %s", got)
	}
	must(s.Duties.Add(ctx, by, a.ID, duty(records.AnnualService, "2026-12-12")))
	must(s.Duties.Add(ctx, by, a.ID, duty(records.LandlordCheckDue, "2025-06-10")))
	if got := deadline(""); got != "2025-06-10" {
		t.Errorf("added by hand: %s", got)
	}
	first := check("2025-06-01", "2026-06-10")
	if got := deadline(""); got != "2026-06-10" {
		t.Errorf("after the first check: %s", got)
	}
	// An amendment of it goes by what it fulfilled, not by what it set.
	if got := deadline(first.Number); got != "2025-06-10" {
		t.Errorf("for an amendment of the first: %s", got)
	}
	second := check("2026-06-01", "2027-06-10")
	if got := deadline(second.Number); got != "2026-06-10" {
		t.Errorf("for an amendment of the second: %s", got)
	}
	third := amend(t, s, a, second.Number, records.LandlordCheck, "2026-06-01",
		duty(records.LandlordCheckDue, "2027-06-10"))
	if got := deadline(third.Number); got != "2026-06-10" {
		t.Errorf("for an amendment of the amendment: %s", got)
	}
}

// The firm and the tables of drops are those of the moment.
func TestBasisHoldsTheFirm(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	bands := records.DropBands{Edition: records.Edition4, Fuel: records.FuelNatural, Clause: "table 1", EnteredBy: "O",
		Bands: []records.DropBand{{UpToM3: 0.01, DropMbar: 5}}}
	ok(t, w.Settings.SaveDropBands(ctx, by, bands))
	b := basisOf(t, w.Store, w.draft)
	if b.Firm.Name != "Tweddle and Daughter Heating" || len(b.Facts().DropBands) != 1 ||
		b.Facts().DropBands[0].Clause != "table 1" || b.Draft.Photos[0].SHA256 != w.photo.SHA256 {
		t.Errorf("basis %+v", b)
	}
}

// The print that was made is that of the record as it was sealed, to the byte,
// and a print that comes later is kept beside the seal as it is.
func TestPrintsStay(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	was := must(w.Records.PDF(ctx, w.issued.ID))
	if got := must(w.Records.KeepPDF(ctx, by, w.issued.ID, []byte("%PDF-1.7 other"))); string(got) != string(was) {
		t.Errorf("another print took the place of the first: %q", got)
	}
	errs := race(4, func(i int) error {
		_, err := w.Records.KeepPDF(ctx, by, w.unprinted.ID, fmt.Appendf(nil, "%%PDF-1.7 %d", i))
		return err
	})
	for _, err := range errs {
		if err != nil {
			t.Error(err)
		}
	}
	first := must(w.Records.PDF(ctx, w.unprinted.ID))
	log := must(w.Audit.Entries(ctx, w.unprinted.ID, 0, 10))
	printed := 0
	for _, e := range log {
		if e.What == "record printed" {
			printed++
		}
	}
	if printed != 1 || len(first) == 0 {
		t.Errorf("printed %d times, %q", printed, first)
	}
	wholeRegister(t, w.Store)
}

// A record is also not as it was issued when a print that was made is gone,
// whether at the issue or later.
func TestALostPrintShows(t *testing.T) {
	t.Parallel()
	for _, which := range []string{"at the issue", "later"} {
		w := newWorld(t)
		row := w.issued
		if which == "later" {
			row = w.unprinted
			must(w.Records.KeepPDF(ctx, by, row.ID, []byte("%PDF-1.7")))
		}
		if _, err := behind(t, w.path).Exec("DROP TRIGGER issued_prints_no_delete; DELETE FROM issued_prints "+
			"WHERE record_n = (SELECT n FROM records WHERE id = ?)", row.ID); err != nil {
			t.Fatal(err)
		}
		err := w.Audit.Proved(ctx)
		if err == nil || !strings.HasSuffix(err.Error(), "record "+row.Number+" is not as it was issued") {
			t.Errorf("made %s: %v", which, err)
		}
	}
}
