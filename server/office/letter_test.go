package office_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

func TestLetters(t *testing.T) {
	site := servertest.Start(t)
	office := site.As(records.RoleOffice)
	a, _ := site.Landlord(1, servertest.ByLetter, "2026-12-20")
	site.Landlord(2, records.Contact{}, "2026-11-20")
	site.Landlord(3, servertest.ByMail, "2026-12-20")
	_, form := office.Preview("letter")
	if len(form["c"]) != 2 {
		t.Fatalf("letters to %v", form)
	}
	look := url.Values{"look": {"yes"}, "reach": form["reach"], "c": form["c"], "seen": form["seen"]}
	if p := office.Post("/chase/letters", look); p.Status != 200 || !strings.HasPrefix(p.Body, "%PDF-") {
		t.Errorf("look: %d", p.Status)
	}
	if log, _ := site.Store.Chase.ContactAttempts(t.Context(), a.ID); len(log) != 0 {
		t.Errorf("looking has noted %+v", log)
	}
	p := office.Post("/chase/letters", form)
	if p.Status != 303 || !strings.HasPrefix(p.Location, "/letters/") {
		t.Fatalf("print: %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	office.Expect(p.Location, 200, []string{"2 letters", "Ivo Tansley"}, nil)
	office.Expect("/chase", 200, []string{p.Location}, nil)
	file := office.Get(p.Location + "/print.pdf")
	if again := office.Get(p.Location + "/print.pdf"); again.Body != file.Body {
		t.Error("printed again it is another file")
	}
	servertest.Says(t, file.Words(t), "Ivo Tansley", "20 December 2026", "The occupier", "20 November 2026", "Emberline Hearth 24",
		"Tweddle and Daughter")
	if log, _ := site.Store.Chase.ContactAttempts(t.Context(), a.ID); len(log) != 1 || log[0].How != "letter" {
		t.Errorf("log %+v", log)
	}
	if p := office.Post("/chase/letters", form); p.Status != http.StatusConflict && p.Status != 422 {
		t.Errorf("printed twice: %d", p.Status)
	}
	if n := len(site.Outbox()); n != 0 {
		t.Errorf("%d messages", n)
	}
}
