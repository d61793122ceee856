package records_test

import (
	"strings"
	"testing"
	"time"

	"gaugebook/records"
)

func TestRolesAndKeys(t *testing.T) {
	for role, may := range map[records.Role][2]bool{records.RoleOwner: {true, true}, records.RoleOffice: {false, true},
		records.RoleEngineer: {true, false}, "": {false, false}, "guest": {false, false}} {
		if got := [2]bool{role.TakesReadings(), role.InOffice()}; got != may {
			t.Errorf("%q takes readings, is in the office: %v, want %v", role, got, may)
		}
	}
	order := []records.KeyScope{"", records.KeyReads, records.KeyEnters, records.KeyIssues}
	for i, has := range order {
		for j, needed := range order[1:] {
			if got := has.Allows(needed); got != (i >= j+1) {
				t.Errorf("a key to %q allows %q: %v", has, needed, got)
			}
		}
	}
}

// Who answers for readings is an engineer with a licence whose competence lasts
// to the day, the last day included: Gas Safety (Installation and Use)
// Regulations 1998, regulation 3(1), work by a competent person only.
func TestMayDeclare(t *testing.T) {
	day := records.MustDate("2026-11-26")
	good := records.Person{ID: "p1", Name: "Tamsin Oakhurst", Role: records.RoleEngineer, Licence: "100234",
		CompetenceUntil: day, Active: true}
	for name, c := range map[string]struct {
		edit func(*records.Person)
		says string
	}{
		"as it is":   {func(*records.Person) {}, ""},
		"owner":      {func(p *records.Person) { p.Role = records.RoleOwner }, ""},
		"no end":     {func(p *records.Person) { p.CompetenceUntil = records.Date{} }, ""},
		"ends later": {func(p *records.Person) { p.CompetenceUntil = day.AddDays(1) }, ""},
		"ended yesterday": {func(p *records.Person) { p.CompetenceUntil = day.AddDays(-1) },
			"competence expired on 25 November 2026, before 26 November 2026"},
		"closed":     {func(p *records.Person) { p.Active = false }, "account is closed"},
		"office":     {func(p *records.Person) { p.Role = records.RoleOffice }, "only an engineer"},
		"no role":    {func(p *records.Person) { p.Role = "" }, "only an engineer"},
		"no licence": {func(p *records.Person) { p.Licence = "" }, "no licence number"},
		"closed, expired": {func(p *records.Person) { p.Active, p.CompetenceUntil = false, day.AddDays(-1) },
			"account is closed"},
		"owner, no number": {func(p *records.Person) { p.Role, p.Licence = records.RoleOwner, "" }, "no licence number"},
	} {
		p := good
		c.edit(&p)
		err := p.MayDeclare(day)
		if c.says == "" && err != nil || c.says != "" && (records.KindOf(err) != records.Forbidden ||
			!strings.Contains(err.Error(), c.says) || !strings.HasPrefix(err.Error(), "Tamsin Oakhurst: ")) {
			t.Errorf("%s: %v, want %q", name, err, c.says)
		}
	}
	good.Key = "the phone"
	if s := good.Signatory(); s != (records.Signatory{ID: "p1", Name: "Tamsin Oakhurst", Licence: "100234",
		Key: "the phone"}) {
		t.Errorf("signs as %+v", s)
	}
	if e := good.Engineer(); e.Name != good.Name || e.Licence != good.Licence || e.CompetenceUntil != day {
		t.Errorf("is on the record as %+v", e)
	}
	if a := good.Actor(); a != (records.Actor{ID: "p1", Name: "Tamsin Oakhurst"}) {
		t.Errorf("is in the log as %+v", a)
	}
}

func TestPersonChecked(t *testing.T) {
	good := records.Person{Name: " Tamsin Oakhurst ", Email: " tamsin@firm.example ", Licence: " 100234 ",
		Role: records.RoleEngineer}
	if p, err := good.Checked(); err != nil || p.Name != "Tamsin Oakhurst" || p.Email != "tamsin@firm.example" ||
		p.Licence != "100234" {
		t.Errorf("not tidied up: %+v, %v", p, err)
	}
	address := strings.Repeat("a", 60) + "@" + strings.Repeat("b", 47) + ".example"
	for name, c := range map[string]struct {
		edit        func(*records.Person)
		field, says string
	}{
		"name of 80":      {func(p *records.Person) { p.Name = long(80) }, "", ""},
		"name of 81":      {func(p *records.Person) { p.Name = long(81) }, "name", "at most 80"},
		"no name":         {func(p *records.Person) { p.Name = " " }, "name", "blank"},
		"no licence":      {func(p *records.Person) { p.Licence = "" }, "", ""},
		"licence of 40":   {func(p *records.Person) { p.Licence = long(40) }, "", ""},
		"licence of 41":   {func(p *records.Person) { p.Licence = long(41) }, "licence", "at most 40"},
		"two lines":       {func(p *records.Person) { p.Licence = "1\n2" }, "licence", "one line"},
		"no address":      {func(p *records.Person) { p.Email = "" }, "email", "name@firm.example"},
		"half an address": {func(p *records.Person) { p.Email = "tamsin" }, "email", "name@firm.example"},
		"with a name":     {func(p *records.Person) { p.Email = "T <t@firm.example>" }, "email", "“T <t@firm.example>”"},
		"two addresses":   {func(p *records.Person) { p.Email = "a@b.example, c@d.example" }, "email", "name@"},
		"address of 116":  {func(p *records.Person) { p.Email = address }, "", ""},
		"address of 121":  {func(p *records.Person) { p.Email = "12345" + address }, "email", "name@"},
		"no role":         {func(p *records.Person) { p.Role = "" }, "role", "one of owner, office, engineer"},
		"another role":    {func(p *records.Person) { p.Role = "Owner" }, "role", "“Owner” is not accepted"},
	} {
		p := good
		c.edit(&p)
		_, err := p.Checked()
		mustBeAbout(t, name, err, c.field, c.says)
	}
}

// An invitation works until it has expired or ended, and not at that moment.
func TestInvitationOpen(t *testing.T) {
	at := time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		ended, expires time.Duration // from now; 0 for not ended
		open           bool
	}{{0, time.Nanosecond, true}, {0, records.InvitationLife, true}, {0, 0, false}, {0, -time.Hour, false},
		{-time.Hour, time.Hour, false}, {time.Hour, time.Hour, false}} {
		i := records.Invitation{ExpiresAt: at.Add(c.expires)}
		if c.ended != 0 {
			i.EndedAt = at.Add(c.ended)
		}
		if i.Open(at) != c.open {
			t.Errorf("%+v: open %v", c, i.Open(at))
		}
	}
	if records.InvitationLife.Hours() != 168 {
		t.Errorf("an invitation lives %v", records.InvitationLife)
	}
}

// An owner's level is for the ratio alone, of a kind that is known, and never
// above 0.02, the level of action of any appliance: from memory, unconfirmed.
func TestOwnerLimitChecked(t *testing.T) {
	level := func(x float64) *float64 { return &x }
	good := records.OwnerLimit{Rule: records.OwnersRatio, Kind: records.KindFire, High: level(0.01),
		Document: "Invented guide", EnteredBy: "Owner"}
	for name, c := range map[string]struct {
		edit        func(*records.OwnerLimit)
		field, says string
	}{
		"as it is":      {func(*records.OwnerLimit) {}, "", ""},
		"highest":       {func(o *records.OwnerLimit) { o.High = level(0.02) }, "", ""},
		"higher":        {func(o *records.OwnerLimit) { o.High = level(0.0201) }, "high", "above 0, at most 0.02"},
		"lowest":        {func(o *records.OwnerLimit) { o.High = level(1e-9) }, "", ""},
		"nothing":       {func(o *records.OwnerLimit) { o.High = level(0) }, "high", "“0” is not accepted"},
		"slipped point": {func(o *records.OwnerLimit) { o.High = level(0.4) }, "high", "“0.4” is not accepted"},
		"no number":     {func(o *records.OwnerLimit) { o.High = level(0 / level0()) }, "high", "a ratio above 0"},
		"another rule": {func(o *records.OwnerLimit) { o.Rule = "tightness.drop" }, "rule",
			"other limits have published figures"},
		"no kind":      {func(o *records.OwnerLimit) { o.Kind = "" }, "kind", "a kind of appliance"},
		"unknown kind": {func(o *records.OwnerLimit) { o.Kind = "kiln" }, "kind", "“kiln”"},
		"no document": {func(o *records.OwnerLimit) { o.Document = " " }, "document",
			"the document that the level is from"},
		"no level": {func(o *records.OwnerLimit) { o.High = nil }, "high", "or how the limit is decided"},
		"guarded": {func(o *records.OwnerLimit) {
			*o = records.OwnerLimit{Rule: "pressure.meter", Decision: records.Guarded, EnteredBy: "Owner"}
		}, "", ""},
		"as read":          {func(o *records.OwnerLimit) { o.High, o.Decision = nil, records.AsRead }, "", ""},
		"unknown decision": {func(o *records.OwnerLimit) { o.Decision = "strict" }, "decision", "one of as read, guarded"},
		"nobody":           {func(o *records.OwnerLimit) { o.EnteredBy = "" }, "entered_by", "blank"},
		"no rule": {func(o *records.OwnerLimit) { o.Rule, o.High, o.Decision = "", nil, records.Guarded },
			"rule", "blank"},
		"long clause": {func(o *records.OwnerLimit) { o.Clause = long(121) }, "clause", "120"},
	} {
		o := good
		c.edit(&o)
		_, err := o.Checked()
		mustBeAbout(t, name, err, c.field, c.says)
	}
}

func level0() float64 { return 0 }
