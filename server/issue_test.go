package server_test

import (
	"net/http"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server"
	"gaugebook/server/servertest"
)

func adverse(vs records.Values) { vs.Put(records.COMaxPPM.Field, "900") }

func TestFromReviewToIssue(t *testing.T) {
	site := servertest.Start(t)
	r := site.Full(adverse)
	c := site.As(records.RoleEngineer)
	review := "/records/" + r.ID + "/review"
	open := records.Unsettled(r.Findings)
	if len(open) == 0 {
		t.Fatal("the spoiled record has nothing outside")
	}
	p := c.Get(review)
	for _, f := range open {
		for _, s := range []string{escape(f.Title), `name="class:` + f.Rule + `"`} {
			if !strings.Contains(p.Body, s) {
				t.Errorf("review: no %q", s)
			}
		}
	}
	if strings.Contains(p.Body, "Issue the record</button>") || !strings.Contains(p.Body, "#at-combustion-max_co_ppm") {
		t.Error("review: may be issued, or does not lead to the reading")
	}

	// Issuing by force is refused and says why.
	p = c.Post("/records/"+r.ID+"/issue", form("revision", revisionIn(t, p.Body)))
	if p.Status != http.StatusConflict || !strings.Contains(p.Body, "Not issued") ||
		!strings.Contains(p.Body, "answer it in the condition report") {
		t.Fatalf("forced issue: status %d", p.Status)
	}

	// Bad and half answers.
	answer := form("revision", revisionIn(t, p.Body), "told", "the householder", "told_how", "in person, notice left",
		"left_off", "yes")
	for _, f := range open {
		answer.Set("class:"+f.Rule, string(records.AtRisk))
		answer.Set("found:"+f.Rule, "Burner seal <displaced>")
		answer.Set("done:"+f.Rule, "Turned off and labelled")
	}
	bad := with(nil)
	for k, v := range answer {
		bad[k] = v
	}
	bad.Set("class:"+open[0].Rule, "a bit worrying")
	if p := c.Post("/records/"+r.ID+"/condition", bad); p.Status != 422 ||
		!strings.Contains(p.Body, "a bit worrying") || !strings.Contains(p.Body, "Burner seal &lt;displaced&gt;") {
		t.Errorf("unknown class: status %d\n%s", p.Status, errorsOf(p.Body))
	}
	stale := with(nil)
	for k, v := range answer {
		stale[k] = v
	}
	stale.Set("revision", "1")
	if p := c.Post("/records/"+r.ID+"/condition", stale); p.Status != http.StatusConflict ||
		!strings.Contains(p.Body, "Burner seal") {
		t.Errorf("stale report: status %d", p.Status)
	}
	if p := c.Post("/records/"+r.ID+"/condition", answer); p.Status != 303 {
		t.Fatalf("report: status %d\n%s", p.Status, errorsOf(p.Body))
	}

	p = c.Get(review)
	if !strings.Contains(p.Body, "Issue the record</button>") {
		t.Fatalf("answered, but cannot be issued\n%s", p.Body)
	}
	if p := c.Post("/records/"+r.ID+"/issue", form("revision", "1")); p.Status != http.StatusConflict {
		t.Errorf("stale issue: status %d", p.Status)
	}
	p = c.Post("/records/"+r.ID+"/issue", form("revision", revisionIn(t, p.Body)))
	if p.Status != 303 || p.Location != "/records/"+r.ID || site.Woken != 1 {
		t.Fatalf("issue: status %d, woken %d\n%s", p.Status, site.Woken, errorsOf(p.Body))
	}
	row, err := site.Store.Records.Issued(t.Context(), r.ID)
	if err != nil {
		t.Fatal(err)
	}
	check(t, c, expect{"/records/" + r.ID, 200, []string{row.Number, row.Seal.Code, "In force", "adverse",
		"Burner seal", "waits to be sent", "Annual service", "Issued as " + row.Number},
		[]string{"Withdraw this record"}})
	check(t, c, expect{"/records/" + row.Number, 303, nil, nil})
	pdf := c.Get("/records/" + r.ID + "/pdf")
	if pdf.Status != 200 || pdf.Header.Get("Content-Type") != "application/pdf" ||
		!strings.HasPrefix(pdf.Body, "%PDF-") || !strings.Contains(pdf.Header.Get("Content-Disposition"), row.Number) {
		t.Errorf("PDF: status %d, %v", pdf.Status, pdf.Header)
	}

	// A draft's pages are closed now.
	for _, path := range []string{review, "/records/" + r.ID + "/sections/heat"} {
		if p := c.Get(path); p.Status != http.StatusConflict || !strings.Contains(p.Body, "has been issued") {
			t.Errorf("%s after issue: status %d", path, p.Status)
		}
	}

	// The customer is told in plain words.
	check(t, site.Guest(), expect{"/r/" + site.Token(r.ID), 200, []string{"Burner seal &lt;displaced&gt;", "At risk",
		"turned off or disconnected", "0800 111 999"}, []string{"Issue", "Sign out"}})
}

func TestAfterIssue(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	engineer, office := site.As(records.RoleEngineer), site.As(records.RoleOffice)
	at, token := "/records/"+row.ID, site.Token(row.ID)

	if p := engineer.Post(at+"/amend", form()); p.Status != 422 || !strings.Contains(p.Body, "a reason") {
		t.Errorf("amend without a reason: status %d", p.Status)
	}
	if p := office.Post(at+"/withdraw", form()); p.Status != 422 || !strings.Contains(p.Body, "a reason") {
		t.Errorf("withdraw without a reason: status %d", p.Status)
	}
	if p := office.Post(at+"/resend", form()); p.Status != 303 {
		t.Errorf("resend: status %d\n%s", p.Status, errorsOf(p.Body))
	}
	sent, _, err := site.Store.Outbox.Find(t.Context(), store.OutboxQuery{RecordID: row.ID})
	if err != nil || len(sent) != 2 || !strings.Contains(sent[0].Text, "/r/") || sent[0].Text == sent[1].Text {
		t.Errorf("after resending: %d messages, %v", len(sent), err)
	}

	p := engineer.Post(at+"/amend", form("why", "serial number mistyped"))
	if p.Status != 303 {
		t.Fatalf("amend: status %d\n%s", p.Status, errorsOf(p.Body))
	}
	draft := strings.TrimPrefix(p.Location, "/records/")
	check(t, engineer, expect{p.Location, 200, []string{"Amends record " + row.Number, "serial number mistyped"}, nil})
	check(t, engineer, expect{at, 200, []string{"In force"}, nil})
	next := issueFromPage(t, engineer, draft)
	if p := engineer.Get("/records/" + draft); !strings.Contains(p.Body, "Replaces record "+row.Number) {
		t.Error("the amendment does not say what it replaces")
	}
	newRow, err := site.Store.Records.Issued(t.Context(), next)
	if err != nil {
		t.Fatal(err)
	}
	check(t, engineer, expect{at, 200, []string{"No longer in force", newRow.Number},
		[]string{"Amend this record", "Send it again"}})
	check(t, site.Guest(), expect{"/r/" + token, 200, []string{"no longer in force", newRow.Number}, nil})
	check(t, site.Guest(), expect{"/v/" + row.Number + "/" + row.Seal.Code, 200,
		[]string{"has been replaced", newRow.Number}, []string{"in force<"}})

	if p := office.Post("/records/"+next+"/withdraw", form("why", "issued for the wrong house")); p.Status != 303 {
		t.Fatalf("withdraw: status %d", p.Status)
	}
	check(t, site.Guest(), expect{"/v/" + newRow.Number + "/" + newRow.Seal.Code, 200,
		[]string{"has been withdrawn", "issued for the wrong house"}, nil})
	check(t, office, expect{"/records/" + next, 200, []string{"Withdrawn.", "issued for the wrong house"},
		[]string{"Withdraw this record"}})
	if p := office.Post("/records/"+next+"/withdraw", form("why", "twice")); p.Status != http.StatusConflict {
		t.Errorf("withdrawn twice: status %d", p.Status)
	}
}

func issueFromPage(t *testing.T, c *servertest.Client, id string) string {
	t.Helper()
	p := c.Get("/records/" + id + "/review")
	p = c.Post("/records/"+id+"/issue", form("revision", revisionIn(t, p.Body)))
	if p.Status != 303 {
		t.Fatalf("issue: status %d\n%s", p.Status, errorsOf(p.Body))
	}
	return id
}

func TestDraftDateAndDiscard(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	c := site.As(records.RoleEngineer)
	at := "/records/" + r.ID
	rev := func() string { return revisionIn(t, c.Get(at).Body) }
	for date, says := range map[string]string{"2030-01-01": "not after today", "": "Date of the work",
		"x": "YYYY-MM-DD"} {
		if p := c.Post(at+"/date", form("revision", rev(), "work_date", date)); p.Status != 422 ||
			!strings.Contains(p.Body, says) {
			t.Errorf("date %q: status %d", date, p.Status)
		}
	}
	if p := c.Post(at+"/date", form("revision", rev(), "work_date", "2026-09-15")); p.Status != 303 {
		t.Errorf("date: status %d", p.Status)
	}
	check(t, c, expect{at, 200, []string{"15 September 2026"}, nil})
	if p := c.Post(at+"/discard", form("revision", rev())); p.Status != 422 {
		t.Errorf("discard unasked: status %d", p.Status)
	}
	if p := c.Post(at+"/discard", form("revision", rev(), "sure", "yes")); p.Status != 303 {
		t.Errorf("discard: status %d", p.Status)
	}
	check(t, c, expect{at, 404, []string{"reference"}, nil})
}

func TestCustomerAndVerify(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	guest, token := site.Guest(), site.Token(row.ID)
	page := guest.Get("/r/" + token)
	for name, want := range map[string]string{"X-Robots-Tag": "noindex, nofollow", "Referrer-Policy": "no-referrer",
		"Cache-Control": "no-store", "Set-Cookie": ""} {
		if got := page.Header.Get(name); got != want {
			t.Errorf("customer's page: %s is %q, want %q", name, got, want)
		}
	}
	if pdf := guest.Get("/r/" + token + "/record.pdf"); pdf.Status != 200 || !strings.HasPrefix(pdf.Body, "%PDF-") {
		t.Errorf("PDF: status %d", pdf.Status)
	}
	if p := guest.Post("/r/"+token+"/visit", form("text", "  ")); p.Status != 422 ||
		!strings.Contains(p.Body, "cannot be left blank") {
		t.Errorf("blank request: status %d", p.Status)
	}
	// An older browser sends no origin from this page; the form must pass.
	guest.Header = http.Header{"Origin": {"null"}}
	p := guest.Post("/r/"+token+"/visit", form("text", "It bangs <when> it starts"))
	if p.Status != 303 || !strings.HasPrefix(p.Location, "/r/"+token) {
		t.Errorf("request: status %d\n%s", p.Status, clip(p.Body))
	}
	check(t, guest, expect{"/r/" + token + "?asked=visit", 200, []string{"Your request is with"}, nil})
	check(t, site.As(records.RoleOffice), expect{"/", 200, []string{"It bangs &lt;when&gt; it starts"}, nil})
	for range 6 {
		p = guest.Post("/r/"+token+"/visit", form("text", "again"))
	}
	if p.Status != http.StatusConflict || !strings.Contains(p.Body, "waiting for an answer") {
		t.Errorf("many requests: status %d", p.Status)
	}
	for _, bad := range []string{"/r/none", "/r/" + token + "x", "/r/none/record.pdf", "/r/" + row.ID} {
		check(t, guest, expect{bad, 404, []string{"do not recognise this link", "01632 960 100"}, []string{row.Number}})
	}
	site.Clock.Set(site.Clock.Now().AddDate(2, 0, 0))
	check(t, guest, expect{"/r/" + token, 410, []string{"has expired, or the firm", "01632 960 100"},
		[]string{row.Number}})

	private := []string{site.Property.Line1, site.Property.Contact.Name, site.Property.Postcode,
		site.People[records.RoleEngineer].Name}
	check(t, guest, expect{"/v/" + row.Number + "/" + strings.ToLower(row.Seal.Code), 200,
		[]string{"in force", "Combination boiler", "20 November 2026"}, private})
	for _, bad := range []string{"/v/" + row.Number + "/ABCD-ABCD-ABCD", "/v/2026-09999/" + row.Seal.Code,
		"/v/" + row.ID + "/" + row.Seal.Code, "/v/%00/%ff"} {
		check(t, guest, expect{bad, 404, []string{"do not match"}, append(private, "Combination")})
	}
	if p := guest.Get("/verify?number=" + row.Number + "&code=" + strings.ReplaceAll(row.Seal.Code, "-",
		"+")); p.Location != "/v/"+row.Number+"/"+row.Seal.Code {
		t.Errorf("form leads to %q", p.Location)
	}
	if p := guest.Get("/verify/key"); p.Status != 200 || !strings.Contains(p.Body, "BEGIN PUBLIC KEY") {
		t.Errorf("key: status %d", p.Status)
	}
}

func TestVerifyIsLimited(t *testing.T) {
	site := servertest.Start(t, func(c *server.Config) { c.VerifyPerMinute = 3 })
	status := 0
	for range 4 {
		status = site.Guest().Get("/v/2026-00001/ABCD-ABCD-ABCD").Status
	}
	if status != http.StatusTooManyRequests {
		t.Errorf("fourth check: status %d", status)
	}
}

func TestMessages(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	c := site.As(records.RoleOffice)
	m, err := site.Store.Outbox.ClaimDue(t.Context(), site.Clock.Now(), 1)
	if err != nil || m == nil {
		t.Fatal(m, err)
	}
	if p := c.Post("/messages/"+m.ID+"/requeue", form()); p.Status != http.StatusConflict {
		t.Errorf("sending one again that is being sent: status %d", p.Status)
	}
	if err := site.Store.Outbox.MarkUnsure(t.Context(), m.ID, "the connection broke"); err != nil {
		t.Fatal(err)
	}
	check(t, c, expect{"/", 200, []string{"unsure", "the connection broke"}, nil})
	check(t, c, expect{"/messages?state=unsure", 200, []string{row.Number, "the connection broke", "Send again",
		"It arrived"}, nil})
	check(t, c, expect{"/messages?state=failed", 200, []string{"None."}, []string{row.Number}})
	if p := c.Post("/messages/"+m.ID+"/arrived", form()); p.Status != 303 {
		t.Errorf("arrived: status %d", p.Status)
	}
	check(t, c, expect{"/messages", 200, []string{"handed over for delivery"}, []string{"Send again</button>"}})
}

func TestRegisterPages(t *testing.T) {
	site := servertest.Start(t)
	site.Issued()
	c := site.As(records.RoleOffice)
	for path, status := range map[string]int{
		"/register": 200, "/register?state=near": 200, "/register?state=none&duty=annual+service": 200,
		"/register?q=quill&sort=address": 200, "/register?kind=fire&nation=Wales": 200,
		"/register?state=sometimes": 422, "/register?sort=colour": 422, "/register?after=garbage": 422,
		"/register?state=none&duty=calibration": 422,
	} {
		if p := c.Get(path); p.Status != status {
			t.Errorf("%s: status %d, want %d", path, p.Status, status)
		}
	}
	check(t, c, expect{"/register?q=zzzz", 200, []string{"Nothing in the register matches"}, nil})
}
