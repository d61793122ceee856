package store_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

func TestFill(t *testing.T) {
	t.Parallel()
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "filled.db")
	s := storetest.MustOpenAt(t, path, storetest.NewClock().Now)
	report, err := s.Bulk.Fill(ctx, storetest.Actor, 450, generated, nil)
	if err != nil || report.Appliances != 450 || report.Records != 900 || report.Rows != 450*(1+1+2*2+2) ||
		report.BareRows != report.Rows {
		t.Fatalf("%+v, %v", report, err)
	}
	if n := count(t, s); n != 450 {
		t.Errorf("%d appliances", n)
	}
	rows, _, err := s.Register.Find(ctx, store.Query{Search: "AB123XY EH-000016"})
	if err != nil || len(rows) != 1 || rows[0].LastRecord == nil ||
		rows[0].LastRecord.WorkDate != records.MustDate("2026-05-01") ||
		rows[0].NextDuty.Duty.Due != records.MustDate("2027-05-01") {
		t.Fatalf("%+v, %v", rows, err)
	}
	duties, err := s.Duties.OfAppliance(ctx, rows[0].ApplianceID)
	if err != nil || len(duties) != 2 || duties[0].Closed() || duties[1].State != records.Done ||
		duties[1].ClosedRecordID != rows[0].LastRecord.ID {
		t.Errorf("%+v, %v", duties, err)
	}
	id := rows[0].LastRecord.ID
	if _, err := s.Records.PDF(ctx, id); records.KindOf(err) != records.NotFound {
		t.Errorf("a print before it was made: %v", err)
	}
	for _, text := range []string{"%PDF-1", "%PDF-2"} { // the first is kept
		if got, err := s.Records.KeepPDF(ctx, storetest.Actor, id, []byte(text)); err != nil ||
			string(got) != "%PDF-1" {
			t.Errorf("%s, %v", got, err)
		}
	}
	// What was made is consistent: exported and restored, it comes out as
	// refresh and the rules of the schema have it.
	was := export(t, s)
	to := storetest.MustOpen(t)
	if _, err := to.Bulk.Restore(ctx, storetest.Actor, store.RestoreOptions{}, bytes.NewReader(was)); err != nil {
		t.Fatal(err)
	}
	if is := export(t, to); !bytes.Equal(was, is) {
		t.Errorf("it came back otherwise:\n%s", firstDifference(was, is))
	}
	a, _, err1 := s.Register.Find(ctx, store.Query{Limit: 500})
	b, _, err2 := to.Register.Find(ctx, store.Query{Limit: 500})
	if err := errors.Join(err1, err2, s.Audit.Proved(ctx), store.CheckFile(ctx, path)); err != nil ||
		!reflect.DeepEqual(a, b) {
		t.Errorf("another register after the restore: %v", err)
	}
	if _, err := s.Bulk.Fill(ctx, storetest.Actor, 1, generated, nil); records.KindOf(err) != records.Conflict {
		t.Errorf("twice: %v", err)
	}
	wrong := errors.New("wrong")
	_, err = storetest.MustOpen(t).Bulk.Fill(ctx, storetest.Actor, 500,
		func(i int, number func(int) string) (store.Filled,
			error) {
			if i == 300 {
				return store.Filled{}, wrong
			}
			return generated(i, number)
		}, nil)
	if !errors.Is(err, wrong) {
		t.Errorf("%v", err)
	}
}

func generated(i int, number func(int) string) (store.Filled, error) {
	f := store.Filled{Property: storetest.Property(i), Values: storetest.ApplianceValues(i)}
	for year := 2025; year <= 2026; year++ {
		r := storetest.Draft("", records.Service, fmt.Sprintf("%d-05-01", year))
		r.Property, r.Contact, r.Values = f.Property.Property, f.Property.Contact, f.Values
		is := records.Issued{Number: number(year), IssuedAt: time.Date(year, 5, 1, 15, 0, 0, 0, time.UTC), Record: r,
			Findings: r.Findings, Standing: records.StandingOf(r.Findings),
			Duties: []records.Duty{storetest.ServiceDue(fmt.Sprintf("%d-05-01", year+1))}}
		canonical, err := is.Canonical()
		if err != nil {
			return f, err
		}
		f.Records = append(f.Records, store.FilledRecord{Issued: is, Canonical: canonical,
			Seal: records.SealOf(canonical, storetest.Key), EngineerID: "p-1"})
	}
	return f, nil
}
