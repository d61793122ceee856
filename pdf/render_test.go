package pdf_test

import (
	"os"
	"path/filepath"
	"testing"

	"gaugebook/records"
)

// kinds are the documents that most tests go through.
var kinds = []struct {
	name string
	make func(testing.TB) records.Document
}{{"clear", clear}, {"adverse", adverse}, {"lpg", lpg}, {"draft", draft}, {"sample", sample}, {"failing", failing}}

// TestSamples writes every kind of document to the folder in PDF_SAMPLES, to
// look at.
func TestSamples(t *testing.T) {
	for _, k := range kinds {
		file := render(t, k.make(t))
		save(t, file)
		if dir := os.Getenv("PDF_SAMPLES"); dir != "" {
			if err := os.WriteFile(filepath.Join(dir, k.name+".pdf"), file, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}
