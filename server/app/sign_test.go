package app_test

import (
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/servertest"
)

// issuedAs returns the sealed record of a row.
func issuedAs(t *testing.T, row store.IssuedRow) records.Issued {
	t.Helper()
	i, err := records.DecodeIssued(row.Canonical)
	if err != nil {
		t.Fatal(err)
	}
	return i
}

// refusedTo fails the test unless the person may not issue the draft.
func refusedTo(t *testing.T, site *servertest.Site, who records.Person, r *records.Record, says string) {
	t.Helper()
	_, err := site.App.Issue(t.Context(), who, r.ID, r.Revision)
	if records.KindOf(err) != records.Forbidden || !strings.Contains(err.Error(), says) {
		t.Errorf("%s issues the draft: %v", who.Name, err)
	}
	if now, err := site.Store.Records.Record(t.Context(), r.ID); err != nil || now.Stage != records.Draft {
		t.Errorf("the draft is %s, %v", now.Stage, err)
	}
}

// Nobody declares a colleague's readings: they are taken over first, declared
// again, and the record names both.
func TestOnlyThePersonNamedIssues(t *testing.T) {
	site := servertest.Start(t)
	maud, rhona := site.People[records.RoleEngineer], site.People[records.RoleOwner]
	r := site.Full()
	refusedTo(t, site, rhona, r, "only Tamsin Oakhurst can declare")
	site.As(records.RoleOwner).Expect("/records/"+r.ID+"/review", 200,
		[]string{"These readings are Tamsin Oakhurst’s", "Take the record over"}, []string{"Issue the record</button>"})

	p := site.As(records.RoleOwner).Post("/records/"+r.ID+"/take-over", servertest.Form("revision", "2"))
	if p.Status != 303 {
		t.Fatalf("take-over: %d %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	r, err := site.Store.Records.Record(t.Context(), r.ID)
	if err != nil {
		t.Fatal(err)
	}
	if r.Values[records.Declared.Key].Present() || r.Engineer.Name != rhona.Name || r.HolderID != rhona.ID {
		t.Errorf("taken over: declared %v, engineer %s", r.Values[records.Declared.Key], r.Engineer.Name)
	}
	refusedTo(t, site, maud, r, "only Rhona Tweddle can declare")
	if _, err := site.App.Issue(t.Context(), rhona, r.ID, r.Revision); records.KindOf(err) != records.NotReady {
		t.Errorf("issued without a declaration: %v", err)
	}
	r = site.Declare(rhona, r)
	row, err := site.App.Issue(t.Context(), rhona, r.ID, r.Revision)
	if err != nil {
		t.Fatal(err)
	}
	i := issuedAs(t, row)
	if *i.IssuedBy != rhona.Signatory() || len(i.TakenOverFrom) != 1 || i.TakenOverFrom[0] != maud.Signatory() ||
		i.Record.Engineer.Name != rhona.Name {
		t.Errorf("sealed: issued by %+v, taken over from %+v, engineer %+v", i.IssuedBy, i.TakenOverFrom,
			i.Record.Engineer)
	}
	servertest.Says(t, site.As(records.RoleOffice).Get("/records/"+row.ID+"/pdf").Words(t),
		"Declared and issued by Rhona Tweddle", "account "+rhona.ID, "Taken over from Tamsin Oakhurst")
}

// What somebody else changes, they declare for nobody.
func TestAColleaguesEntryClearsTheDeclaration(t *testing.T) {
	site := servertest.Start(t)
	r := site.Full()
	r = site.Declare(site.People[records.RoleOwner], r)
	if r.Values[records.Declared.Key].Present() {
		t.Error("a colleague declares the readings")
	}
	r = site.Declare(site.People[records.RoleEngineer], r)
	if !r.Values[records.Declared.Key].Present() {
		t.Error("the engineer cannot declare")
	}
}

// Nobody issues for a person who has left, and a person whose competence has
// ended takes nothing over.
func TestIssuersOwnLicenceAndCompetence(t *testing.T) {
	site := servertest.Start(t)
	maud, rhona := site.People[records.RoleEngineer], site.People[records.RoleOwner]
	r := site.Full()
	change := func(p records.Person) {
		t.Helper()
		if _, err := site.Store.People.Update(t.Context(), rhona.Actor(), p); err != nil {
			t.Fatal(err)
		}
	}
	left := maud
	left.Active = false
	change(left)
	refusedTo(t, site, maud, r, "account is closed")
	refusedTo(t, site, rhona, r, "only Tamsin Oakhurst")
	left.Active, left.CompetenceUntil = true, records.MustDate("2026-10-31")
	change(left)
	refusedTo(t, site, maud, r, "competence expired")
	left.Licence, left.CompetenceUntil = "", maud.CompetenceUntil
	change(left)
	refusedTo(t, site, maud, r, "no licence number")

	for _, p := range []records.Person{
		{CompetenceUntil: records.MustDate("2026-11-24"), Licence: "7000002"}, {Licence: ""},
	} {
		p.ID, p.Name, p.Email, p.Role, p.Active = rhona.ID, rhona.Name, rhona.Email, rhona.Role, true
		if _, err := site.App.TakeOver(t.Context(), p, r.ID, r.Revision); records.KindOf(err) != records.Forbidden {
			t.Errorf("taken over with licence %q and competence until %s: %v", p.Licence, p.CompetenceUntil, err)
		}
	}
}

// An amendment says who took the readings and who amended them.
func TestAmendmentNamesWhoAmended(t *testing.T) {
	site := servertest.Start(t)
	maud, rhona := site.People[records.RoleEngineer], site.People[records.RoleOwner]
	r, err := site.App.Amend(t.Context(), rhona, site.Issued().ID, "CO read off the wrong line")
	if err != nil {
		t.Fatal(err)
	}
	refusedTo(t, site, maud, r, "only Rhona Tweddle")
	r = site.Declare(rhona, r)
	row, err := site.App.Issue(t.Context(), rhona, r.ID, r.Revision)
	if err != nil {
		t.Fatal(err)
	}
	i := issuedAs(t, row)
	if i.Record.Engineer.Name != maud.Name || i.AmendedBy == nil || *i.AmendedBy != rhona.Signatory() ||
		*i.IssuedBy != rhona.Signatory() {
		t.Errorf("sealed: engineer %s, amended by %+v", i.Record.Engineer.Name, i.AmendedBy)
	}
	servertest.Says(t, site.As(records.RoleOffice).Get("/records/"+row.ID+"/pdf").Words(t),
		"Engineer Tamsin Oakhurst", "Amended by Rhona Tweddle")
}
