package account_test

import (
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

// An issuing key is made by its holder, and by nobody for somebody else.
func TestIssuingKeyIsMadeByItsHolder(t *testing.T) {
	site := servertest.Start(t)
	maud := site.People[records.RoleEngineer]
	form := servertest.Form("label", "van tablet", "scope", "issue", "days", "90")
	owner, engineer := site.As(records.RoleOwner), site.As(records.RoleEngineer)
	if p := owner.Post("/people/"+maud.ID+"/keys", form); p.Status != 422 ||
		!strings.Contains(p.Body, "made by its holder alone") {
		t.Errorf("by the owner: %d", p.Status)
	}
	if p := engineer.Post("/account/keys", form); p.Status != 200 || !strings.Contains(p.Body, "gbk_") {
		t.Errorf("by the engineer: %d", p.Status)
	}
	for _, bad := range []string{"", "0", "9999"} {
		if p := engineer.Post("/account/keys", servertest.Form("label", "x", "scope", "read", "days",
			bad)); p.Status != 422 {
			t.Errorf("for %q days: %d", bad, p.Status)
		}
	}
	engineer.Expect("/account", 200, []string{"van tablet", "May issue", "valid until", "not used yet"}, []string{"gbk_"})
	keys, err := site.Store.People.Keys(t.Context(), maud.ID)
	if err != nil || len(keys) != 1 {
		t.Fatal(keys, err)
	}
	office := site.As(records.RoleOffice)
	if p := office.Post("/account/keys/"+keys[0].ID+"/end", nil); p.Status != 404 {
		t.Errorf("somebody else's key is ended: %d", p.Status)
	}
	if p := engineer.Post("/account/keys/"+keys[0].ID+"/end", nil); p.Status != 303 {
		t.Errorf("ending it: %d", p.Status)
	}
}
