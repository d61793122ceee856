package office_test

import (
	"log/slog"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store/storetest"
	"gaugebook/server/mail"
	"gaugebook/server/servertest"
	"gaugebook/server/servertest/browser"
	"gaugebook/server/worker"
)

// A landlord of two appliances gets one message, in the words of the preview,
// with a way to stop; the next day nothing more is due.
func TestRemindersByEmail(t *testing.T) {
	site, office := servertest.StartAs(t, records.RoleOffice)
	site.Landlord(1, servertest.ByMail, "2026-12-20")
	_, late := site.Landlord(2, servertest.ByMail, "2026-11-18")
	site.Landlord(3, servertest.ByLetter, "2026-12-20")
	site.Landlord(4, records.Contact{Name: "Far Away", Email: "far@home.example", Tenure: records.OwnerOccupier},
		"2027-06-20")

	office.Expect("/week?late=yes&weeks=8", 200, []string{`rowspan="2"`, "Odile Parrack", "Ivo Tansley",
		"2 customers, 3 visits"}, []string{"Far Away"})
	p, form := office.Preview("e-mail")
	if len(form["c"]) != 1 || !strings.Contains(p.Body, "was due on 18 November 2026") ||
		!strings.Contains(p.Body, "falls due on 20 December 2026") || !strings.Contains(p.Body,
		"It is not\nadvertising.") {
		t.Fatalf("preview\n%s", servertest.Clip(p.Body))
	}
	if p := office.Post("/chase/send", form); p.Status != 303 || site.Woken.Load() != 1 {
		t.Fatalf("send: %d, woken %d\n%s", p.Status, site.Woken.Load(), servertest.Clip(p.Body))
	}
	list := site.Outbox()
	if len(list) != 1 || list[0].ToEmail != servertest.ByMail.Email ||
		list[0].Subject != "Gas appliance: 2 services or checks due since 18 November 2026" {
		t.Fatalf("outbox %+v", list)
	}
	// The text is that of the preview but for the link.
	shown := regexp.MustCompile(`(?s)<pre class="letter">(.*?)</pre>`).FindStringSubmatch(p.Body)[1]
	shown = strings.ReplaceAll(strings.ReplaceAll(shown, "&#39;", "'"), "(the customer's own link)", list[0].StopURL)
	if strings.TrimSpace(shown) != strings.TrimSpace(list[0].Text) {
		t.Errorf("shown\n%s\nsent\n%s", shown, list[0].Text)
	}
	office.Expect("/chase", 200, []string{"1 reminder queued to send", "Nobody"}, nil)
	office.Expect("/appliances/"+late.ApplianceID, 200,
		[]string{"Reminder: annual service due 18 November 2026, 1 week late"}, nil)
	if p := office.Post("/chase/send", form); p.Status != 303 || len(site.Outbox()) != 1 {
		t.Errorf("sent again: %d", p.Status)
	}
	if p := office.Post("/chase/preview", url.Values{"reach": {"e-mail"}}); p.Status != 422 ||
		!strings.Contains(p.Body, "at least one") {
		t.Errorf("nobody chosen: %d", p.Status)
	}
}

// Two people press Send at the same time, with the same preview.
func TestTwoPeopleSendAtOnce(t *testing.T) {
	site := servertest.Start(t)
	for n := range 12 {
		site.Landlord(n+1, storetest.Property(n+1).Contact, "2026-12-20")
	}
	one, two := site.As(records.RoleOffice), site.As(records.RoleOwner)
	_, form := one.Preview("e-mail")
	var wg sync.WaitGroup
	for _, c := range []*servertest.Client{one, two} {
		wg.Go(func() { c.Post("/chase/send", form) })
	}
	wg.Wait()
	to := map[string]int{}
	for _, m := range site.Outbox() {
		to[m.ToEmail]++
	}
	if len(to) != 12 || len(site.Outbox()) != 12 {
		t.Errorf("messages to %v", to)
	}
}

// What the preview showed is what is sent, or nothing is.
func TestChangedSincePreview(t *testing.T) {
	site, office := servertest.StartAs(t, records.RoleOffice)
	a, _ := site.Landlord(1, servertest.ByMail, "2026-12-20")
	_, form := office.Preview("e-mail")
	p, err := site.Store.Register.Property(t.Context(), a.PropertyID)
	if err != nil {
		t.Fatal(err)
	}
	p.Contact.Name = "Odile Parrack-Tansley"
	if _, err := site.Store.Register.UpdateProperty(t.Context(), storetest.Actor, p); err != nil {
		t.Fatal(err)
	}
	office.Post("/chase/send", form)
	if n := len(site.Outbox()); n != 0 {
		t.Errorf("%d messages", n)
	}
	office.Expect("/chase", 200, []string{"has changed since the preview"}, nil)
}

func letterbox(t *testing.T, site *servertest.Site, dir string) []string {
	t.Helper()
	mails := worker.NewMailSender(site.App, mail.Folder{Dir: dir}, site.Clock.Now, slog.New(slog.DiscardHandler))
	if err := mails.SendDue(t.Context()); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.eml"))
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, f := range files {
		raw, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, string(raw))
	}
	return out
}

// The link of a message leads to a page that asks once; then nothing more is
// mailed, neither what waits nor what would be due, until the office is told.
func TestUnsubscribe(t *testing.T) {
	site := servertest.Start(t)
	office, dir := site.As(records.RoleOffice), t.TempDir()
	site.Landlord(1, servertest.ByMail, "2026-12-20")
	_, form := office.Preview("e-mail")
	office.Post("/chase/send", form)
	sent := letterbox(t, site, dir)
	if len(sent) != 1 {
		t.Fatalf("%d letters", len(sent))
	}
	unfolded := strings.ReplaceAll(sent[0], "\r\n ", " ")
	m := regexp.MustCompile(`List-Unsubscribe: <` + regexp.QuoteMeta(site.HTTP.URL) +
		`(/stop/[a-z0-9]+)>`).FindStringSubmatch(unfolded)
	if m == nil {
		t.Fatalf("no List-Unsubscribe in\n%s", sent[0])
	}
	guest := site.Guest()
	guest.Header.Del("Sec-Fetch-Site")
	guest.Header.Set("Origin", "null") // a page that sends no referrer
	guest.Expect(m[1], 200, []string{"Stop reminders", "o…@parrack.example", "noindex"},
		[]string{servertest.ByMail.Email})
	if e, _ := site.Store.Chase.Suppressed(t.Context(), servertest.ByMail.Email); e != nil {
		t.Fatal("looking at the page has stopped the reminders")
	}
	// One more waits in the outbox when the customer confirms.
	site.Landlord(2, servertest.ByMail, "2026-12-21")
	_, form = office.Preview("e-mail")
	office.Post("/chase/send", form)
	if p := guest.Post(m[1], url.Values{}); p.Status != 303 {
		t.Fatalf("confirmed: %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	guest.Expect(m[1], 200, []string{"have been stopped"}, []string{"<button>Stop"})
	if n := len(letterbox(t, site, dir)); n != 1 {
		t.Errorf("%d letters, the second of them unwanted", n)
	}
	// Sent again by hand from the page of messages, it still does not go out.
	for _, m := range site.Outbox() {
		if m.State == records.MessageFailed {
			office.Post("/messages/"+m.ID+"/requeue", url.Values{})
		}
	}
	site.Landlord(3, servertest.ByMail, "2026-12-22")
	office.Expect("/chase", 200, []string{"Nobody"}, nil)
	if n := len(letterbox(t, site, dir)); n != 1 {
		t.Errorf("%d letters after trying again", n)
	}
	a, _ := site.Landlord(4, servertest.ByMail, "2027-12-22")
	office.Expect("/customers/"+a.PropertyID, 200, []string{"Does not want reminders",
		"by the link in a reminder (customer)"}, nil)
	site.As(records.RoleOwner).Expect("/reminders", 200, []string{servertest.ByMail.Email}, nil)
	if p := office.Post("/customers/"+a.PropertyID+"/resume", url.Values{"how": {""}}); p.Status != 422 {
		t.Errorf("resumed without a reason: %d", p.Status)
	}
	office.Post("/customers/"+a.PropertyID+"/resume", url.Values{"how": {"rang"}})
	office.Expect("/chase", 200, []string{"Odile Parrack"}, nil)
	site.Guest().Expect("/stop/none", 404, nil, nil)
}

// The program dies while a reminder is being handed over: it is set aside,
// not sent again, and not put in again.
func TestReminderInACrash(t *testing.T) {
	site, office := servertest.StartAs(t, records.RoleOffice)
	site.Landlord(1, servertest.ByMail, "2026-12-20")
	_, form := office.Preview("e-mail")
	office.Post("/chase/send", form)
	if m, err := site.Store.Outbox.ClaimDue(t.Context(), site.Clock.Now(), time.Minute); err != nil || m == nil {
		t.Fatal(m, err)
	}
	if n, err := site.Store.Outbox.RecoverSending(t.Context()); n != 1 || err != nil {
		t.Fatal(n, err)
	}
	office.Post("/chase/send", form)
	if list := site.Outbox(); len(list) != 1 || list[0].State != records.MessageUnsure ||
		len(letterbox(t, site, t.TempDir())) != 0 {
		t.Errorf("outbox %+v", list)
	}
}

func TestNoAccessAndNextAction(t *testing.T) {
	site, office := servertest.StartAs(t, records.RoleOffice)
	a, _ := site.Landlord(1, servertest.ByMail, "2026-12-20")
	b, _ := site.Landlord(2, servertest.ByMail, "2026-12-20")
	p := office.Post("/appliances/"+a.ID+"/contacts", url.Values{"how": {"no access"}, "note": {"Card left."},
		"next": {"2026-11-25"}})
	if p.Status != 303 {
		t.Fatalf("log: %d", p.Status)
	}
	office.Expect("/week?weeks=8&action=now", 200, []string{"No access, 25 Nov 2026", "Card left.", "now",
		"1 customer, 1 visit"}, nil)
	p = office.Post("/customers/"+b.PropertyID+"/contacts", url.Values{"how": {"telephone"},
		"note": {"Both in one go."}, "next": {"2026-12-01"}})
	if p.Status != 303 {
		t.Fatalf("log of a customer: %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	office.Expect("/week?weeks=8&action=now", 200, []string{"Nothing falls due"}, nil)
	office.Expect("/customers/"+a.PropertyID, 200, []string{"<h1>Odile Parrack</h1>",
		"Sign out Piers Applegarth", "Card left.", "Both in one go.", "1 Dec 2026"}, nil)
	if p := office.Post("/customers/"+a.PropertyID+"/contacts", url.Values{"how": {"telephone"},
		"appliance": {"x"}}); p.Status != 422 {
		t.Errorf("about somebody else's appliance: %d", p.Status)
	}
}

func TestDutiesPage(t *testing.T) {
	site, office := servertest.StartAs(t, records.RoleOffice)
	d := site.DutyAt(site.Appliance.ID, records.BuildingNotice, "2026-12-10")
	office.Expect("/duties", 200, []string{"Building-work notification", "Calibration", "Competence expiry",
		"Tamsin Oakhurst"}, nil)
	office.Expect("/duties?kind=competence+expiry&state=ahead", 200, []string{"Tamsin Oakhurst"},
		[]string{"notification</td>"})
	office.Expect("/duties?kind=calibration&state=late", 200, nil, []string{"Tamsin Oakhurst"})
	for _, bad := range []string{"/duties?kind=party", "/duties?state=asleep"} {
		office.Expect(bad, 422, nil, nil)
	}
	if p := office.Post("/duties/"+d.ID+"/sent",
		url.Values{"reference": {"BN-77"}, "on": {"2026-12-01"}}); p.Status != 422 {
		t.Errorf("sent tomorrow: %d", p.Status)
	}
	p := office.Post("/duties/"+d.ID+"/sent", url.Values{"reference": {"BN-77"}, "on": {"2026-11-24"},
		"back": {"/duties?state=near"}})
	if p.Status != 303 || p.Location != "/duties?state=near" {
		t.Errorf("sent: %d %s", p.Status, p.Location)
	}
	office.Expect("/duties?kind=building-work+notification&state=done", 200,
		[]string{"Sent on 24 November 2026, reference BN-77", "Piers Applegarth"}, nil)
	office.Expect("/duties?state=done", 200, []string{"Choose a duty"}, nil)
}

// The list goes by keys, and one box chooses all.
func TestListByKeys(t *testing.T) {
	site := servertest.Start(t)
	site.Landlord(1, servertest.ByMail, "2026-12-20")
	site.Landlord(2, storetest.Property(2).Contact, "2026-12-21")
	b := browser.Open(t, site, records.RoleOffice)
	b.Go("/chase")
	b.Until("script has run", `document.querySelector("[data-all-here] input")`)
	press := func(key string) {
		b.JS(`document.activeElement.dispatchEvent(new KeyboardEvent("keydown", { key: "` + key +
			`", bubbles: true }))`)
	}
	at := func(n string) string {
		return `document.activeElement === document.querySelectorAll("tbody input[type=checkbox]")[` + n + `]`
	}
	press("j")
	b.Until("at the first customer", at("0"))
	press("ArrowDown")
	b.Until("at the second", at("1"))
	press("k")
	b.Until("back at the first", at("0"))
	b.JS(`(() => { document.querySelector("[data-all-here] input").click(); return true })()`)
	b.Until("all are chosen",
		`[...document.querySelectorAll("tbody input[type=checkbox]")].length === 2 && [...document.querySelectorAll("tbody input[type=checkbox]")].every((c) => c.checked)`)
}

func TestLetters(t *testing.T) {
	site, office := servertest.StartAs(t, records.RoleOffice)
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
	servertest.Says(t, file.Words(t), "Ivo Tansley", "20 December 2026", "The occupier", "20 November 2026",
		"Emberline Hearth 24",
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
