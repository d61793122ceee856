package store_test

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

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
