package owner_test

import (
	"net/url"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

func TestWebhookFormRefuses(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
	for _, c := range []struct {
		form url.Values
		says string
	}{
		{servertest.Form("url", "http://office.example/", "event", "record.issued"), "https address"},
		{servertest.Form("url", "http://127.0.0.1:80/", "event", "record.issued"),
			"this machine itself is not allowed"},
		{servertest.Form("url", "https://office.example/"), "at least one of"},
		{servertest.Form("url", "https://office.example/", "event", "record.read"), "at least one of"},
		{servertest.Form(), "https address"},
	} {
		p := owner.Post("/webhooks", c.form)
		if p.Status != 422 || !strings.Contains(p.Body, c.says) || !strings.Contains(p.Body, `value="`+
			c.form.Get("url")+`"`) {
			t.Errorf("%v: status %d\n%s", c.form, p.Status, servertest.ErrorsOf(p.Body))
		}
	}
}
