package rules_test

import (
	"bytes"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// BenchmarkEvaluate judges the sample record and prints how long that takes
// as a multiple of decoding the same record from its JSON, both run here.
func BenchmarkEvaluate(b *testing.B) {
	r := rules.Sample()
	raw, err := records.EncodeRecord(r)
	if err != nil {
		b.Fatal(err)
	}
	var judging, decoding time.Duration
	b.ReportAllocs()
	for b.Loop() {
		start := time.Now()
		if len(rules.Evaluate(r, records.Facts{})) == 0 {
			b.Fatal("no findings")
		}
		middle := time.Now()
		if _, err := records.DecodeRecord(bytes.NewReader(raw)); err != nil {
			b.Fatal(err)
		}
		judging += middle.Sub(start)
		decoding += time.Since(middle)
	}
	b.ReportMetric(float64(judging)/float64(decoding), "x-decoding")
	b.ReportMetric(float64(judging)/float64(b.N), "judging-ns")
}
