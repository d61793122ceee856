package owner_test

import (
	"net/http"
	"net/url"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

func TestNoLinkWithoutAnAddressToSendFrom(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
	if p := owner.Post("/firm", servertest.Form("name", "Tweddle Heating")); p.Status != 303 {
		t.Fatal(p.Status)
	}
	owner.Expect("/people", 200, []string{"No link can be sent"}, nil)
	if p := owner.Post("/people/"+site.People[records.RoleOffice].ID+"/invite",
		url.Values{}); p.Status != http.StatusConflict {
		t.Errorf("status %d", p.Status)
	}
	owner.Post("/people", servertest.Form("name", "Wilf Marchbank", "email", "wilf@tweddle.example", "role", "office"))
	owner.Expect("/people", 200, []string{"Wilf Marchbank", "Added, but no link could be sent"}, nil)
}
