package server_test

import (
	"net/http"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

// HEAD is answered like GET, without a body, everywhere; what has no GET has
// no HEAD.
func TestHead(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	token := site.Token(row.ID)
	owner := site.As(records.RoleOwner)
	for _, path := range []string{"/", "/sign-in", "/healthz", "/static/css/app.css", "/records/" + row.ID,
		"/records/" + row.ID + "/pdf", "/r/" + token, "/r/" + token + "/record.pdf", "/r/none", "/no-such-page",
		"/rules"} {
		get, head := owner.Get(path), owner.Do(http.MethodHead, path, nil)
		if head.Status != get.Status || head.Body != "" ||
			head.Header.Get("Content-Type") != get.Header.Get("Content-Type") ||
			head.Header.Get("Content-Security-Policy") == "" {
			t.Errorf("HEAD %s: status %d, GET %d; %d bytes; %q", path, head.Status, get.Status, len(head.Body),
				head.Header.Get("Content-Type"))
		}
	}
	if p := owner.Do(http.MethodHead, "/records/"+row.ID+"/amend", nil); p.Status != http.StatusMethodNotAllowed {
		t.Errorf("HEAD of a form's address: status %d", p.Status)
	}
}
