package owner_test

import (
	"net/http"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

func TestLimitsOfTheFirm(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
	fields := []string{"rule", records.OwnersRatio, "kind", records.KindFire, "high", "0.012", "decision",
		string(records.AsRead), "document", "Invented guide to fires", "clause", "table 3"}
	level := servertest.Form(fields...)
	for _, bad := range []struct{ field, entry, says string }{
		{"high", "a lot", "a number such as 0.008"}, {"high", "0.5", "at most 0.02"},
		{"document", "", "the document that the level is from"}, {"kind", "", "a kind of appliance"},
		{"rule", "tightness.nothing", "one of the list"},
	} {
		p := owner.Post("/limits", servertest.FormWith(fields, bad.field, bad.entry))
		if p.Status != http.StatusUnprocessableEntity {
			t.Errorf("%s %q: status %d", bad.field, bad.entry, p.Status)
		}
		if !strings.Contains(p.Body, bad.says) {
			t.Errorf("%s %q: no %q in %s", bad.field, bad.entry, bad.says, servertest.ErrorsOf(p.Body))
		}
	}
	if p := owner.Post("/limits", level); p.Status != http.StatusSeeOther {
		t.Fatalf("status %d: %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	owner.Post("/limits", servertest.Form("rule", "heat.input", "decision", string(records.Guarded)))
	owner.Expect("/limits", http.StatusOK, []string{"at most 0.012", "Gas fire", "Invented guide to fires, table 3",
		"decided guarded"}, []string{"None yet"})
	if p := owner.Post("/limits/remove", servertest.Form("rule", records.OwnersRatio, "kind",
		records.KindFire)); p.Status != http.StatusSeeOther {
		t.Errorf("removing: status %d", p.Status)
	}
	owner.Expect("/limits", http.StatusOK, []string{"decided guarded"}, []string{"0.012"})
}
