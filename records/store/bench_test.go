package store_test

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// large makes a register by plain SQL: one property to an appliance, three
// records, a service duty for three in four. GAUGEBOOK_BENCH_APPLIANCES sets
// the size.
func large(b *testing.B) *store.Store {
	b.Helper()
	n := 50_000
	if v, err := strconv.Atoi(os.Getenv("GAUGEBOOK_BENCH_APPLIANCES")); err == nil {
		n = v
	}
	s := storetest.MustOpen(b)
	count := fmt.Sprintf("WITH RECURSIVE c(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM c WHERE i < %d) ", n)
	due := "date('2026-10-01', (i * 7919 % 400) || ' days')"
	kind, nation := "iif(i % 10 = 0, 'fire', 'boiler-combination')", "iif(i % 30 = 0, 'Wales', 'England')"
	for _, stmt := range []string{
		`INSERT INTO properties
			SELECT i, 'p' || i, (i % 90 + 1) || ' Lane ' || (i / 90), '', 'Ambershaw', 'AB12 3XY', 'England',
			'Customer ' || i, '', '', 'landlord', '', '2026-01-01T00:00:00.000Z' FROM c`,
		`INSERT INTO appliances (n, id, property_n, kind, make_model, serial, doc, nation, address_key, search,
			due, due_n, last_record_n, no_service, created_at)
			SELECT i, 'a' || i, i, ` + kind + `, 'Emberline Hearth', 'EH-' || i, '{}', ` + nation + `,
			printf('ab12 3xy lane%08d', i * 7 % 1000003),
			(i % 90 + 1) || ' lane' || (i / 90) || ' ambershaw ab12 3xy customer' || i || ' emberline eh' || i,
			iif(i % 4 = 0, '9999-99-99', ` + due + `), iif(i % 4 = 0, NULL, i), i * 3, i % 4 = 0,
			'2026-01-01T00:00:00.000Z' FROM c`,
		`INSERT INTO records (id, appliance_n, purpose, stage, standing, work_date, engineer_id, engineer, revision,
			schema, doc, rejected, findings, replaces, number, issued_at, created_at, updated_at)
			SELECT 'r' || i || '-' || k, i, 'service', 'issued', 'clear', (2023 + k) || '-10-01', 'e', 'E', 1,
			1, '{}', 'null', '[]', '', (2023 + k) || '-' || i, '', '', ''
			FROM c, (SELECT 1 AS k UNION SELECT 2 UNION SELECT 3) ORDER BY i, k`,
		`INSERT INTO duties (n, id, appliance_n, kind, due, why, source, state, work_date, created_at,
			appliance_kind, nation)
			SELECT i, 'd' || i, i, 'annual service', ` + due + `, '', '{}', 'open', '2025-10-01', '',
			` + kind + `, ` + nation + ` FROM c WHERE i % 4 <> 0`,
	} {
		store.MustExec(b, s, count+stmt)
	}
	return s
}

// BenchmarkRegister prints, for each screen, how many times longer its page
// takes than the baseline: the same fifty rows asked for by primary key.
func BenchmarkRegister(b *testing.B) {
	ctx := context.Background()
	s := large(b)
	day := records.MustDate("2026-11-25")
	keys := make([]int64, 50)
	for i := range keys {
		keys[i] = int64(i*997 + 1)
	}
	baseline := median(b, 40, func() error { return store.RowsByKey(ctx, s, keys) })
	for _, c := range []struct {
		name string
		q    store.Query
	}{
		{"first page", store.Query{}},
		{"late", store.Query{State: records.Late}},
		{"near, fires", store.Query{State: records.Near, Kind: records.KindFire}},
		{"ahead, Wales", store.Query{State: records.Ahead, Nation: records.Wales}},
		{"no service on file", store.Query{State: store.NoDuty, Duty: records.AnnualService}},
		{"service late", store.Query{State: records.Late, Duty: records.AnnualService}},
		{"service, fires in Wales", store.Query{Duty: records.AnnualService, Kind: records.KindFire,
			Nation: records.Wales}},
		{"late by address", store.Query{State: records.Late, Sort: store.ByAddress}},
		{"search for one", store.Query{Search: "eh4242"}},
		{"search for a street", store.Query{Search: "lane77"}},
		{"search for all", store.Query{Search: "ambershaw"}},
		{"search for all, service late by address",
			store.Query{Search: "ambershaw", State: records.Late, Duty: records.AnnualService, Sort: store.ByAddress}},
	} {
		b.Run(c.name, func(b *testing.B) {
			c.q.Today = day
			took := median(b, 20, func() error {
				_, _, err := s.Register.Find(ctx, c.q)
				return err
			})
			b.ReportMetric(float64(took)/float64(baseline), "x-of-by-key")
			b.ReportMetric(float64(took.Microseconds()), "µs")
		})
	}
	b.Run("counts", func(b *testing.B) {
		took := median(b, 20, func() error { _, err := s.Register.Counts(ctx, day); return err })
		b.ReportMetric(float64(took)/float64(baseline), "x-of-by-key")
	})
}

func median(b *testing.B, n int, f func() error) time.Duration {
	b.Helper()
	times := make([]time.Duration, n)
	for i := range times {
		begun := time.Now()
		if err := f(); err != nil {
			b.Fatal(err)
		}
		times[i] = time.Since(begun)
	}
	slices.Sort(times)
	return times[n/2]
}

// BenchmarkSaveBesideIssues prints how many times longer a save takes beside
// two others who issue without end, each drawing for 30 ms, than alone: with
// the drawing before the transaction, as Issue has it, and within it.
func BenchmarkSaveBesideIssues(b *testing.B) {
	const drawing = 30 * time.Millisecond
	s := storetest.MustOpen(b)
	mine := storetest.MustDraft(b, s, storetest.MustAppliance(b, s, 1).ID, records.Service, "2026-11-20")
	n := 0
	save := func() error {
		n++
		mine.Values.Put(records.StandingMbar.Field, fmt.Sprintf("%d.5", 15+n%10))
		r, err := s.Records.SaveDraft(ctx, storetest.Actor, mine, mine.Revision)
		if err == nil {
			mine = r
		}
		return err
	}
	beside := func(within bool) time.Duration {
		stop := make(chan struct{})
		var wg sync.WaitGroup
		for g := range 2 {
			a := storetest.MustAppliance(b, s, 100+g)
			wg.Go(func() {
				by := storetest.Issuer()
				by.Draw = func(p store.Plan) ([]byte, error) {
					if !within {
						time.Sleep(drawing)
					}
					return storetest.Draw(p)
				}
				for {
					select {
					case <-stop:
						return
					default:
					}
					if within {
						if err := store.HoldWriter(s, func() { time.Sleep(drawing) }); err != nil {
							b.Error(err)
						}
					}
					r := must(s.Records.StartDraft(ctx, storetest.Actor, storetest.Draft(a.ID, records.Service,
						"2026-11-20")))
					if _, _, err := s.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, by); err != nil {
						b.Error(err)
					}
				}
			})
		}
		took := median(b, 60, save)
		close(stop)
		wg.Wait()
		return took
	}
	for b.Loop() {
		alone := median(b, 60, save)
		before, within := beside(false), beside(true)
		b.ReportMetric(float64(before)/float64(alone), "x-alone")
		b.ReportMetric(float64(within)/float64(alone), "x-alone-if-drawn-within")
		b.ReportMetric(float64(within)/float64(before), "x-quicker")
	}
}
