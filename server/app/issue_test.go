package app_test

import (
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/pdf"
	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
	"gaugebook/server/app"
	"gaugebook/server/mail"
	"gaugebook/server/servertest"
	"gaugebook/server/worker"
)

// fullDraft starts a draft with all readings inside their limits.
func fullDraft(t *testing.T, site *servertest.Site, purpose records.Purpose, work string) *records.Record {
	t.Helper()
	who := site.People[records.RoleEngineer]
	r, err := site.App.Start(t.Context(), who, site.Appliance.ID, purpose, records.MustDate(work))
	if err == nil {
		r, err = site.App.SaveChange(t.Context(), who, r.ID, r.Revision,
			app.Change{Values: rules.Sample().Values.Clone()})
	}
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// genuine fails the test unless the print is that of the record.
func genuine(t *testing.T, file []byte, row store.IssuedRow) {
	t.Helper()
	v, err := pdf.Verify(file, storetest.Key.Public().(ed25519.PublicKey))
	if err != nil || v.Judgement != pdf.Genuine || v.Number != row.Number || v.Code != row.Seal.Code {
		t.Errorf("the print of %s is %+v, %v", row.Number, v, err)
	}
}

// Eight drafts of one appliance hold the same readings. One is issued; to the
// others, however close behind it, the rules say that readings of two visits
// are never the same.
func TestCopiedReadingsIssuedAtOnce(t *testing.T) {
	site := servertest.Start(t)
	who := site.People[records.RoleEngineer]
	errs, drafts := make([]error, 8), make([]*records.Record, 8)
	for i := range drafts {
		drafts[i] = fullDraft(t, site, records.Service, fmt.Sprintf("2026-11-%d", 10+i))
	}
	var wg sync.WaitGroup
	for i, r := range drafts {
		wg.Go(func() { _, errs[i] = site.App.Issue(t.Context(), who, r.ID, r.Revision) })
	}
	wg.Wait()
	issued := 0
	for i, err := range errs {
		if err == nil {
			issued++
			row, err := site.Store.Records.Issued(t.Context(), drafts[i].ID)
			if err != nil || row.Number != "2026-00001" {
				t.Fatalf("%s: %v", row.Number, err)
			}
			genuine(t, stored(t, site, row), row)
		} else if records.KindOf(err) != records.NotReady || !strings.Contains(err.Error(), "not copied") {
			t.Errorf("draft %d: %v", i, err)
		}
	}
	if issued != 1 {
		t.Errorf("%d records with the same readings were issued", issued)
	}
}

// Eight appliances at once: each record ends with the print of its own number.
func TestIssueOfManyAppliancesAtOnce(t *testing.T) {
	site := servertest.Start(t)
	who := site.People[records.RoleEngineer]
	rows := make([]store.IssuedRow, 8)
	var wg sync.WaitGroup
	for i := range rows {
		a, err := site.Store.Register.CreateAppliance(t.Context(), storetest.Actor, site.Property.ID,
			rules.Sample().Values)
		if err != nil {
			t.Fatal(err)
		}
		site.Appliance = a
		r := fullDraft(t, site, records.Commissioning, "2026-11-20")
		wg.Go(func() {
			var err error
			if rows[i], err = site.App.Issue(t.Context(), who, r.ID, r.Revision); err != nil {
				t.Errorf("draft %d: %v", i, err)
			}
		})
	}
	wg.Wait()
	numbers := map[string]bool{}
	for _, row := range rows {
		numbers[row.Number] = true
		genuine(t, stored(t, site, row), row)
	}
	for n := range rows {
		if !numbers[records.NumberOf(2026, n+1)] {
			t.Errorf("number %d was not given out", n+1)
		}
	}
	site.Prove()
}

// stored returns the print that is kept of a record.
func stored(t *testing.T, site *servertest.Site, row store.IssuedRow) []byte {
	t.Helper()
	file, err := site.Store.Records.PDF(t.Context(), row.ID)
	if err != nil {
		t.Fatalf("%s was left without a print: %v", row.Number, err)
	}
	return file
}

// A save goes on while a record is drawn: the drawing ends after the save.
func TestSaveBesideASlowDrawing(t *testing.T) {
	site := servertest.Start(t)
	who := site.People[records.RoleEngineer]
	r, other := fullDraft(t, site, records.Service, "2026-11-10"), fullDraft(t, site, records.Service, "2026-11-11")
	drawing, saved := make(chan struct{}), make(chan struct{})
	site.App.Draw = func(doc records.Document, key ed25519.PrivateKey) ([]byte, error) {
		close(drawing)
		select {
		case <-saved:
		case <-time.After(time.Minute):
			t.Error("the save waited for the drawing")
		}
		return pdf.RenderSealed(doc, key)
	}
	done := make(chan error)
	go func() {
		_, err := site.App.Issue(context.WithoutCancel(t.Context()), who, r.ID, r.Revision)
		done <- err
	}()
	<-drawing
	if _, err := site.App.SaveWorkDate(t.Context(), who, other.ID, other.Revision,
		records.MustDate("2026-11-12")); err != nil {
		t.Error(err)
	}
	close(saved)
	if err := <-done; err != nil {
		t.Error(err)
	}
}

// The firm takes another name while its record is drawn: record and print have
// the new one.
func TestFirmRenamedWhileDrawing(t *testing.T) {
	site := servertest.Start(t)
	who, drawn := site.People[records.RoleEngineer], 0
	r := fullDraft(t, site, records.Service, "2026-11-10")
	site.App.Draw = func(doc records.Document, key ed25519.PrivateKey) ([]byte, error) {
		if drawn++; drawn == 1 {
			firm := doc.Record.Firm
			firm.Name = "Applegarth Heating"
			if err := site.Store.Settings.SaveFirm(t.Context(), storetest.Actor, firm); err != nil {
				t.Error(err)
			}
		}
		return pdf.RenderSealed(doc, key)
	}
	row, err := site.App.Issue(t.Context(), who, r.ID, r.Revision)
	if err != nil || drawn != 2 {
		t.Fatalf("drawn %d times: %v", drawn, err)
	}
	if v, err := pdf.Verify(stored(t, site, row),
		storetest.Key.Public().(ed25519.PublicKey)); v.Firm != "Applegarth Heating" {
		t.Errorf("printed for %q: %v", v.Firm, err)
	}
}

// A record whose number was taken, and whose process ended before it was drawn
// again, is drawn when its message is handed over.
func TestPrintAfterACrash(t *testing.T) {
	site := servertest.Start(t)
	who, drawn := site.People[records.RoleEngineer], 0
	r := fullDraft(t, site, records.Service, "2026-11-10")
	other := storetest.MustAppliance(t, site.Store, 50)
	site.App.Draw = func(doc records.Document, key ed25519.PrivateKey) ([]byte, error) {
		if drawn++; drawn > 1 {
			return nil, errors.New("the process ends here")
		}
		storetest.MustIssue(t, site.Store, other.ID, records.Service, "2026-11-12")
		return pdf.RenderSealed(doc, key)
	}
	row, err := site.App.Issue(t.Context(), who, r.ID, r.Revision)
	if err != nil || row.Number != "2026-00002" || drawn != 2 {
		t.Fatalf("%s after %d drawings: %v", row.Number, drawn, err)
	}
	if _, err := site.Store.Records.PDF(t.Context(), row.ID); records.KindOf(err) != records.NotFound {
		t.Errorf("it has a print: %v", err)
	}
	site.Prove()

	site.App.Draw = nil
	dir := t.TempDir()
	o := worker.NewMailSender(site.App, mail.Folder{Dir: dir}, site.Clock.Now, slog.New(slog.DiscardHandler))
	if err := o.SendDue(t.Context()); err != nil {
		t.Fatal(err)
	}
	genuine(t, stored(t, site, row), row)
	names, err := filepath.Glob(filepath.Join(dir, "*.eml"))
	if err != nil {
		t.Fatal(err)
	}
	attached := 0
	for _, name := range names {
		letter, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(letter), "record-"+row.Number+".pdf") {
			attached++
		}
	}
	if attached != 1 {
		t.Errorf("%d of %d letters carry the record", attached, len(names))
	}
}

// What cannot be drawn is not issued, and uses no number.
func TestUndrawableIsNotIssued(t *testing.T) {
	site := servertest.Start(t)
	who := site.People[records.RoleEngineer]
	r := fullDraft(t, site, records.Service, "2026-11-10")
	ink := errors.New("no more ink")
	site.App.Draw = func(records.Document, ed25519.PrivateKey) ([]byte, error) { return nil, ink }
	if _, err := site.App.Issue(t.Context(), who, r.ID, r.Revision); !errors.Is(err, ink) {
		t.Errorf("error %v", err)
	}
	// A picture that cannot be read stops it too.
	site.App.Draw = nil
	sum, err := site.Store.Photos.Keep([]byte("no picture at all"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := site.Store.Photos.Add(t.Context(), who.Actor(), r.ID, records.Photo{SHA256: sum, Section: "flue",
		Width: 4, Height: 3}); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(filepath.Join(site.Store.Photos.Dir(), sum[:2], sum+".jpg")); err != nil {
		t.Fatal(err)
	}
	_, err = site.App.Issue(t.Context(), who, r.ID, r.Revision)
	if records.KindOf(err) != records.NotReady || !strings.Contains(err.Error(), "cannot be read") {
		t.Errorf("error %v", err)
	}
	if got, err := site.Store.Records.Record(t.Context(), r.ID); err != nil || got.Stage != records.Draft {
		t.Errorf("the record is %s, %v", got.Stage, err)
	}
	if messages, _, err := site.Store.Outbox.Find(t.Context(), store.OutboxQuery{}); err != nil || len(messages) > 0 {
		t.Errorf("messages %+v, %v", messages, err)
	}
	if row := site.Issued(); row.Number != "2026-00001" {
		t.Errorf("number %s, want the first", row.Number)
	}
}

func TestLetterWithoutRoomForThePDF(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	doc, err := site.App.Document(t.Context(), row.ID)
	if err != nil {
		t.Fatal(err)
	}
	for attach, says := range map[bool]string{true: "is attached as a PDF", false: "too large for a message"} {
		m := app.RecordLetter(doc, "https://records.example/r/token", attach)
		if m.AttachPDF != attach || !strings.Contains(m.Text, says) || !strings.Contains(m.HTML, says) {
			t.Errorf("attach %v: does not say %q", attach, says)
		}
	}
	doc.Record.Property.Nation = records.NorthernIreland
	m := app.RecordLetter(doc, "https://records.example/r/token", true)
	for _, body := range []string{m.Text, m.HTML} {
		if !strings.Contains(body, "0800 002 001") ||
			!strings.Contains(body, "Compare this number with your gas supplier’s") ||
			strings.Contains(body, "0800 111 999") {
			t.Error("Northern Ireland: wrong number, or without its caution")
		}
	}
	doc.Record.Values.Put(records.ApplianceFuel.Field, records.FuelPropane)
	if m := app.RecordLetter(doc, "x", true); !strings.Contains(m.Text, "Your LPG supplier’s emergency number") {
		t.Error("LPG: not sent to the supplier's number")
	}
}
