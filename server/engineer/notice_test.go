package engineer_test

import (
	"fmt"
	"net/http"
	"net/url"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/server/servertest"
)

func TestNoticeToLeaveOnSite(t *testing.T) {
	site := servertest.Start(t)
	engineer := site.As(records.RoleEngineer)
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
