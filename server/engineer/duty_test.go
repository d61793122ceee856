package engineer_test

import (
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

// The office adds what falls due of an appliance that no record is about yet.
func TestDutyAddedByHand(t *testing.T) {
	site := servertest.Start(t)
	office, page := site.As(records.RoleOffice), "/appliances/"+site.Appliance.ID
	whole := []string{"kind", "annual service", "due", "2027-03-14", "why", "Serviced by another firm in March"}
	for _, bad := range []struct{ field, entry, says string }{
		{"kind", "party", "party"}, {"due", "", "Due"}, {"due", "14/03/2027", "14/03/2027"},
		{"why", "a\x00b", "one line of at most 400"},
	} {
		p := office.Post(page+"/duties", servertest.FormWith(whole, bad.field, bad.entry))
		if p.Status != 422 {
			t.Errorf("%s %q: status %d", bad.field, bad.entry, p.Status)
		}
		servertest.Says(t, p.Body, bad.says)
	}
	if p := office.Post(page+"/duties", servertest.Form(whole...)); p.Status != 303 {
		t.Fatalf("status %d: %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	office.Expect(page, 200, []string{"14 Mar 2027", "Serviced by another firm in March"}, nil)
	if p := site.As(records.RoleEngineer).Post(page+"/duties", servertest.Form(whole...)); p.Status != 403 {
		t.Errorf("an engineer: status %d", p.Status)
	}
}
