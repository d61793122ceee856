package office_test

import (
	"bytes"
	"io"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

func TestBounceTakenIn(t *testing.T) {
	site := servertest.Start(t)
	row, m := site.Sent()
	office, engineer := site.As(records.RoleOffice), site.As(records.RoleEngineer)
	send := func(file string) servertest.Page {
		t.Helper()
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		part, err := w.CreateFormFile("file", "report.eml")
		if err == nil {
			_, err = io.WriteString(part, file)
		}
		if err != nil || w.Close() != nil {
			t.Fatal(err)
		}
		return office.Send(http.MethodPost, "/bounces", w.FormDataContentType(), &b)
	}
	id := m.ID + "@tweddle.example"
	if p := send("not a report"); p.Status != 422 || !strings.Contains(p.Body, "not an e-mail message") {
		t.Errorf("no report: status %d", p.Status)
	}
	if p := send(servertest.BounceReport("other@elsewhere.example", "failed", "5.1.1", "x")); p.Status != 404 ||
		!strings.Contains(p.Body, "was not sent from here") {
		t.Errorf("of somebody else: status %d", p.Status)
	}
	if p := office.Post("/bounces", servertest.Form()); p.Status != 422 {
		t.Errorf("no file: status %d", p.Status)
	}
	if p := send(servertest.BounceReport(id, "delayed", "4.2.2", "mailbox full")); p.Status != 303 {
		t.Errorf("delayed: status %d", p.Status)
	}
	office.Expect("/messages/"+m.ID, 200, []string{"Did it come back?", "nothing was changed"},
		[]string{"came back: "})
	if p := send(servertest.BounceReport(id, "failed", "5.1.1", "550 no such <mailbox>")); p.Status != 303 ||
		p.Location != "/messages/"+m.ID {
		t.Errorf("failed: status %d", p.Status)
	}
	says := []string{"came back: 5.1.1 550 no such &lt;mailbox&gt;", "failed"}
	engineer.Expect("/records/"+row.ID, 200, says, nil)
	office.Expect("/messages?state=failed", 200, says, nil)
	office.Expect("/", 200, says[:1], nil)
	if p := send(servertest.BounceReport(id, "failed", "5.1.1", "again")); p.Status != http.StatusConflict {
		t.Errorf("twice: status %d", p.Status)
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
	if p := c.Post("/messages/"+m.ID+"/requeue", servertest.Form()); p.Status != http.StatusConflict {
		t.Errorf("sending one again that is being sent: status %d", p.Status)
	}
	if err := site.Store.Outbox.MarkUnsure(t.Context(), m.ID, "the connection broke"); err != nil {
		t.Fatal(err)
	}
	c.Expect("/", 200, []string{"unsure", "the connection broke"}, nil)
	c.Expect("/messages?state=unsure", 200, []string{" (1)</option>", row.Number, "the connection broke", "Send again",
		"It arrived"}, nil)
	c.Expect("/messages?state=failed", 200, []string{"None."}, []string{row.Number})
	if p := c.Post("/messages/"+m.ID+"/arrived", servertest.Form()); p.Status != 303 {
		t.Errorf("arrived: status %d", p.Status)
	}
	c.Expect("/messages", 200, []string{"handed over for delivery"}, []string{"Send again</button>"})
}
