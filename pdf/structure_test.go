package pdf_test

import (
	"bytes"
	"compress/zlib"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gaugebook/pdf"
	"gaugebook/pdf/pdftest"
	"gaugebook/records"
)

var quoted = regexp.MustCompile(`(?m)^ *"(.*)"$`)

// TestStructure reads papers by their structure, as a screen reader does, with
// an independent tool: the words are those of the pages but for what stands in
// the margins and the figures of plots, they come apart where lines break, and
// there is one title.
func TestStructure(t *testing.T) {
	t.Parallel()
	for _, doc := range []records.Document{adverse(t), pictured(t)} {
		path := save(t, render(t, doc))
		if info := ask(t, "pdfinfo", path); !regexp.MustCompile(`Tagged: +yes`).MatchString(info) {
			t.Fatalf("%s is not tagged:\n%s", doc.Number, info)
		}
		tree := ask(t, "pdfinfo", "-struct-text", path)
		if n := len(regexp.MustCompile(`(?m)^  H1`).FindAllString(tree, -1)); n != 1 {
			t.Errorf("%d titles", n)
		}
		var read strings.Builder
		for _, m := range quoted.FindAllStringSubmatch(tree, -1) {
			read.WriteString(m[1] + " ")
		}
		if want := cautions(t, path); !strings.Contains(read.String(), want) {
			t.Errorf("read aloud, the words of %q run together", want)
		}
		all := squeezed(read.String())
		for i, p := range pages(t, path) {
			for _, w := range p.Words {
				margin := w.YMax < 46 && i > 0 || w.YMin > p.Height-40
				_, err := strconv.ParseFloat(w.Text, 64) // those at the axes of plots
				if !strings.Contains(all, squeezed(w.Text)) && !margin && err != nil {
					t.Errorf("page %d: %q is printed, and not in the structure", i+1, w.Text)
				}
			}
		}
	}
}

// cautions is a sentence that goes over several lines.
func cautions(t *testing.T, path string) string {
	t.Helper()
	const sentence = "It does not say that the appliance is safe, then or later, and it says nothing of what was not " +
		"measured."
	if !strings.Contains(words(t, path), sentence) {
		t.Fatalf("the paper does not say %q", sentence)
	}
	return sentence
}

var (
	streams = regexp.MustCompile(`(?s)/Filter ?/FlateDecode/Length \d+>>\nstream\n(.*?)\nendstream`)
	marked  = regexp.MustCompile(`(?m)^(/Artifact BMC|/Span <</MCID \d+>> BDC|EMC|BT|.* (?:re|m|Do).*)$`)
)

// TestEverythingIsMarked walks the contents of every page: all that is drawn is
// marked content or an artifact, neither within the other, and the marks of a
// page are numbered from 0 without a gap.
func TestEverythingIsMarked(t *testing.T) {
	t.Parallel()
	notice, err := pdf.ConditionReport(adverse(t))
	if err != nil {
		t.Fatal(err)
	}
	letter, err := pdf.Reminders([]pdf.ReminderLetter{reminder()})
	if err != nil {
		t.Fatal(err)
	}
	files := map[string][]byte{"notice": notice, "letter": letter}
	for _, k := range kinds {
		files[k.name] = render(t, k.make(t))
	}
	for name, file := range files {
		contents := 0
		for _, s := range streams.FindAllSubmatch(file, -1) {
			z, err := zlib.NewReader(bytes.NewReader(s[1]))
			if err != nil {
				t.Fatal(err)
			}
			data, err := io.ReadAll(z)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Contains(data, []byte("BMC")) {
				continue
			}
			contents++
			open, next := false, 0
			for _, m := range marked.FindAllSubmatch(data, -1) {
				switch op := string(m[1]); {
				case op == "EMC":
					if !open {
						t.Fatalf("%s: a mark ends that was not begun", name)
					}
					open = false
				case strings.HasSuffix(op, "BMC"), strings.HasSuffix(op, "BDC"):
					if open {
						t.Fatalf("%s: a mark within a mark", name)
					}
					open = true
					if id := strings.TrimSuffix(strings.TrimPrefix(op, "/Span <</MCID "),
						">> BDC"); op != "/Artifact BMC" {
						if id != strconv.Itoa(next) {
							t.Fatalf("%s: mark %s, want %d", name, id, next)
						}
						next++
					}
				case !open:
					t.Fatalf("%s: %q is drawn outside all marks", name, op)
				}
			}
			if open || bytes.Contains(data, []byte("8888")) && bytes.Contains(data, []byte("[8888")) {
				t.Errorf("%s: a mark is left open, or a sign is left", name)
			}
		}
		if contents == 0 {
			t.Errorf("%s: no contents were found", name)
		}
	}
}

// TestContactDetailsAreNotAttached: what is attached to a paper can be passed
// on with it.
func TestContactDetailsAreNotAttached(t *testing.T) {
	t.Parallel()
	doc := clear(t)
	if doc.Record.Contact.Email == "" || doc.Record.Contact.Phone == "" {
		t.Fatal("the record has no contact details to look for")
	}
	out := filepath.Join(t.TempDir(), "record.json")
	pdftest.Run(t, "pdfdetach", "-savefile", pdf.RecordFile, "-o", out, save(t, render(t, doc)))
	data, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range []string{doc.Record.Contact.Email, doc.Record.Contact.Phone} {
		if bytes.Contains(data, []byte(w)) {
			t.Errorf("attached is %q", w)
		}
	}
	issued, err := records.DecodeIssued(data)
	if err != nil || issued.Record.Firm.Phone != doc.Record.Firm.Phone {
		t.Errorf("the firm's telephone is %q, %v", issued.Record.Firm.Phone, err)
	}
}
