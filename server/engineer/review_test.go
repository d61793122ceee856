package engineer_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/records/store"
	"gaugebook/server/servertest"
)

func TestFromReviewToIssue(t *testing.T) {
	site := servertest.Start(t)
	r := site.Full(servertest.Adverse)
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
	p = c.Post("/records/"+r.ID+"/issue", servertest.Form("revision", servertest.RevisionIn(t, p.Body)))
	if p.Status != http.StatusConflict || !strings.Contains(p.Body, "Not issued") ||
		!strings.Contains(p.Body, "answer it in the condition report") {
		t.Fatalf("forced issue: status %d", p.Status)
	}

	// Bad and half answers.
	answer := servertest.Form("revision", servertest.RevisionIn(t, p.Body), "told", "the householder", "told_how",
		"in person, notice left",
		"left_off", "yes")
	for _, f := range open {
		answer.Set("class:"+f.Rule, string(records.AtRisk))
		answer.Set("found:"+f.Rule, "Burner seal <displaced>")
		answer.Set("done:"+f.Rule, "Turned off and labelled")
	}
	bad := servertest.FormWith(nil)
	for k, v := range answer {
		bad[k] = v
	}
	bad.Set("class:"+open[0].Rule, "a bit worrying")
	if p := c.Post("/records/"+r.ID+"/condition", bad); p.Status != 422 ||
		!strings.Contains(p.Body, "a bit worrying") || !strings.Contains(p.Body, "Burner seal &lt;displaced&gt;") {
		t.Errorf("unknown class: status %d\n%s", p.Status, servertest.ErrorsOf(p.Body))
	}
	stale := servertest.FormWith(nil)
	for k, v := range answer {
		stale[k] = v
	}
	stale.Set("revision", "1")
	if p := c.Post("/records/"+r.ID+"/condition", stale); p.Status != http.StatusConflict ||
		!strings.Contains(p.Body, "Burner seal") {
		t.Errorf("stale report: status %d", p.Status)
	}
	if p := c.Post("/records/"+r.ID+"/condition", answer); p.Status != 303 {
		t.Fatalf("report: status %d\n%s", p.Status, servertest.ErrorsOf(p.Body))
	}

	p = c.Get(review)
	if !strings.Contains(p.Body, "Issue the record</button>") {
		t.Fatalf("answered, but cannot be issued\n%s", p.Body)
	}
	if p := c.Post("/records/"+r.ID+"/issue", servertest.Form("revision", "1")); p.Status != http.StatusConflict {
		t.Errorf("stale issue: status %d", p.Status)
	}
	p = c.Post("/records/"+r.ID+"/issue", servertest.Form("revision", servertest.RevisionIn(t, p.Body)))
	if p.Status != 303 || p.Location != "/records/"+r.ID || site.Woken.Load() != 1 {
		t.Fatalf("issue: status %d, woken %d\n%s", p.Status, site.Woken.Load(), servertest.ErrorsOf(p.Body))
	}
	row, err := site.Store.Records.Issued(t.Context(), r.ID)
	if err != nil {
		t.Fatal(err)
	}
	c.Expect("/records/"+r.ID, 200, []string{row.Number, row.Seal.Code, "In force", "adverse",
		"Burner seal", "waiting to be sent", "Annual service", "Issued as " + row.Number},
		[]string{"Withdraw this record"})
	c.Expect("/records/"+row.Number, 303, nil, nil)
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
	site.Guest().Expect("/r/"+site.Token(r.ID), 200, []string{"Burner seal &lt;displaced&gt;", "At risk",
		"turned off or disconnected", "0800 111 999"}, []string{"Issue", "Sign out"})
}

func TestAfterIssue(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	engineer, office := site.As(records.RoleEngineer), site.As(records.RoleOffice)
	at, token := "/records/"+row.ID, site.Token(row.ID)

	if p := engineer.Post(at+"/amend", servertest.Form()); p.Status != 422 || !strings.Contains(p.Body, "a reason") {
		t.Errorf("amend without a reason: status %d", p.Status)
	}
	if p := office.Post(at+"/withdraw", servertest.Form()); p.Status != 422 || !strings.Contains(p.Body, "a reason") {
		t.Errorf("withdraw without a reason: status %d", p.Status)
	}
	if p := office.Post(at+"/resend", servertest.Form()); p.Status != 303 {
		t.Errorf("resend: status %d\n%s", p.Status, servertest.ErrorsOf(p.Body))
	}
	sent, _, err := site.Store.Outbox.Find(t.Context(), store.OutboxQuery{RecordID: row.ID})
	if err != nil || len(sent) != 2 || site.LinkIn(sent[0], "/r/") == site.LinkIn(sent[1], "/r/") {
		t.Errorf("after resending: %d messages, %v", len(sent), err)
	}

	p := engineer.Post(at+"/amend", servertest.Form("why", "serial number mistyped"))
	if p.Status != 303 {
		t.Fatalf("amend: status %d\n%s", p.Status, servertest.ErrorsOf(p.Body))
	}
	draft := strings.TrimPrefix(p.Location, "/records/")
	engineer.Expect(p.Location, 200, []string{"Amends record " + row.Number, "serial number mistyped"}, nil)
	engineer.Expect(at, 200, []string{"In force"}, nil)
	amendment, err := site.Store.Records.Record(t.Context(), draft)
	if err != nil || amendment.Values.Text(records.EngineerSignature) != "" ||
		amendment.Values[records.Declared.Key].Present() {
		t.Errorf("the amendment is declared already: %v", err)
	}
	site.Declare(site.People[records.RoleEngineer], amendment)
	next := issueFromPage(t, engineer, draft)
	if p := engineer.Get("/records/" + draft); !strings.Contains(p.Body, "Replaces record "+row.Number) {
		t.Error("the amendment does not say what it replaces")
	}
	newRow, err := site.Store.Records.Issued(t.Context(), next)
	if err != nil {
		t.Fatal(err)
	}
	engineer.Expect(at, 200, []string{"No longer in force", newRow.Number},
		[]string{"Amend this record", "Send it again"})
	site.Guest().Expect("/r/"+token, 200, []string{"no longer in force", newRow.Number}, nil)
	site.Guest().Expect("/v/"+row.Number+"/"+row.Seal.Code, 200,
		[]string{"has been replaced", newRow.Number}, []string{"in force<"})

	if p := office.Post("/records/"+next+"/withdraw",
		servertest.Form("why", "issued for the wrong house")); p.Status != 303 {
		t.Fatalf("withdraw: status %d", p.Status)
	}
	site.Guest().Expect("/v/"+newRow.Number+"/"+newRow.Seal.Code, 200,
		[]string{"has been withdrawn", "issued for the wrong house"}, nil)
	office.Expect("/records/"+next, 200, []string{"Withdrawn.", "issued for the wrong house"},
		[]string{"Withdraw this record"})
	if p := office.Post("/records/"+next+"/withdraw",
		servertest.Form("why", "twice")); p.Status != http.StatusConflict {
		t.Errorf("withdrawn twice: status %d", p.Status)
	}
}

func issueFromPage(t *testing.T, c *servertest.Client, id string) string {
	t.Helper()
	p := c.Get("/records/" + id + "/review")
	p = c.Post("/records/"+id+"/issue", servertest.Form("revision", servertest.RevisionIn(t, p.Body)))
	if p.Status != 303 {
		t.Fatalf("issue: status %d\n%s", p.Status, servertest.ErrorsOf(p.Body))
	}
	return id
}

func TestDraftDateAndDiscard(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	c := site.As(records.RoleEngineer)
	at := "/records/" + r.ID
	rev := func() string { return servertest.RevisionIn(t, c.Get(at).Body) }
	for date, says := range map[string]string{"2030-01-01": "not after today", "": "Date of the work",
		"x": "YYYY-MM-DD"} {
		if p := c.Post(at+"/date", servertest.Form("revision", rev(), "work_date", date)); p.Status != 422 ||
			!strings.Contains(p.Body, says) {
			t.Errorf("date %q: status %d", date, p.Status)
		}
	}
	if p := c.Post(at+"/date", servertest.Form("revision", rev(), "work_date", "2026-09-15")); p.Status != 303 {
		t.Errorf("date: status %d", p.Status)
	}
	c.Expect(at, 200, []string{"15 September 2026"}, nil)
	if p := c.Post(at+"/discard", servertest.Form("revision", rev())); p.Status != 422 {
		t.Errorf("discard unasked: status %d", p.Status)
	}
	if p := c.Post(at+"/discard", servertest.Form("revision", rev(), "sure", "yes")); p.Status != 303 {
		t.Errorf("discard: status %d", p.Status)
	}
	c.Expect(at, 404, []string{"reference"}, nil)
}

func TestNoticeToLeaveOnSite(t *testing.T) {
	site, engineer := servertest.StartAs(t, records.RoleEngineer)
	r := site.Full(func(vs records.Values) { vs.Put(records.COMaxPPM.Field, "900") })
	path := "/records/" + r.ID
	if p := engineer.Get(path + "/notice.pdf"); p.Status != http.StatusConflict {
		t.Errorf("before there is a condition report: %d", p.Status)
	}
	v := url.Values{"revision": {fmt.Sprint(r.Revision)}, "told": {"the customer"}, "told_how": {"in person"},
		"left_off": {"yes"}}
	for _, f := range records.Unsettled(r.Findings) {
		v.Set("class:"+f.Rule, string(records.Classes[0]))
		v.Set("found:"+f.Rule, "burner out of adjustment")
		v.Set("done:"+f.Rule, "turned off")
	}
	if p := engineer.Post(path+"/condition", v); p.Status != 303 {
		t.Fatalf("condition: %d %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	engineer.Expect(path+"/review", 200, []string{"Notice to leave on site (PDF)", path + "/notice.pdf"},
		nil)
	servertest.Says(t, engineer.Get(path+"/notice.pdf").Words(t), "Do not use this gas appliance",
		"burner out of adjustment",
		"Record not issued yet", "DO NOT USE", rules.Sample().Values.ApplianceName())

	saved, err := site.Store.Records.Record(t.Context(), r.ID)
	if err != nil {
		t.Fatal(err)
	}
	row, err := site.App.Issue(t.Context(), site.People[records.RoleEngineer], r.ID, saved.Revision)
	if err != nil {
		t.Fatal(err)
	}
	site.As(records.RoleOffice).Expect(path, 200, []string{"Notice to leave on site (PDF)"}, nil)
	for _, ref := range []string{r.ID, row.Number} {
		servertest.Says(t, site.As(records.RoleOffice).Get("/records/"+ref+"/notice.pdf").Words(t),
			"burner out of adjustment",
			"Record "+row.Number)
	}
}

func TestNoNoticeWithoutConditionReport(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	site.As(records.RoleEngineer).Expect("/records/"+row.ID, 200, nil, []string{"notice.pdf"})
	for ref, want := range map[string]int{row.ID: http.StatusConflict, "none": http.StatusNotFound} {
		if p := site.As(records.RoleEngineer).Get("/records/" + ref + "/notice.pdf"); p.Status != want {
			t.Errorf("%s: %d", ref, p.Status)
		}
	}
}
