package records_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"gaugebook/records"
)

// fieldsOf returns the fields that an error is about.
func fieldsOf(err error) []string {
	var es records.Errors
	var e *records.Error
	switch {
	case errors.As(err, &es):
		out := make([]string, len(es))
		for i, e := range es {
			out[i] = e.Field
		}
		return out
	case errors.As(err, &e):
		return []string{e.Field}
	}
	return nil
}

// mustBeAbout holds an error against the one field that it must be about.
func mustBeAbout(t *testing.T, name string, err error, field, says string) {
	t.Helper()
	if field == "" {
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		return
	}
	if got := fieldsOf(err); len(got) != 1 || got[0] != field || !strings.Contains(err.Error(), says) ||
		records.KindOf(err) != records.Invalid {
		t.Errorf("%s: about %q: %v; want %s: %s", name, got, err, field, says)
	}
}

func long(n int) string { return strings.Repeat("é", n) }

func TestPropertyChecked(t *testing.T) {
	good := records.Property{Line1: "4 Tidewater Steps", Town: "Ambershaw", Postcode: "AB12 3XY",
		Nation: records.Wales}
	for name, c := range map[string]struct {
		edit        func(*records.Property)
		field, says string
	}{
		"as it is": {func(*records.Property) {}, "", ""},
		"longest lines": {func(p *records.Property) {
			p.Line1, p.Line2, p.Town = long(100), long(100), long(60)
		}, "", ""},
		"no first line":        {func(p *records.Property) { p.Line1 = " " }, "line1", "cannot be left blank"},
		"first line too long":  {func(p *records.Property) { p.Line1 = long(101) }, "line1", "at most 100 characters"},
		"second line too long": {func(p *records.Property) { p.Line2 = long(101) }, "line2", "at most 100 characters"},
		"no town":              {func(p *records.Property) { p.Town = "" }, "town", "cannot be left blank"},
		"town too long":        {func(p *records.Property) { p.Town = long(61) }, "town", "at most 60 characters"},
		"two lines in one":     {func(p *records.Property) { p.Line2 = "a\nb" }, "line2", "one line"},
		"not text":             {func(p *records.Property) { p.Town = "a\xffb" }, "town", "one line"},
		"no postcode":          {func(p *records.Property) { p.Postcode = "" }, "postcode", "such as AB12 3XY"},
		"wrong postcode":       {func(p *records.Property) { p.Postcode = "HARN 1" }, "postcode", "“HARN 1”"},
		"no nation":            {func(p *records.Property) { p.Nation = "" }, "nation", "one of England"},
		"other nation":         {func(p *records.Property) { p.Nation = "Atlantis" }, "nation", "“Atlantis”"},
	} {
		p := good
		c.edit(&p)
		_, err := p.Checked()
		mustBeAbout(t, name, err, c.field, c.says)
	}
	tidy, err := records.Property{Line1: " 4 Tidewater Steps ", Town: "Ambershaw\t", Postcode: "ab123xy",
		Nation: records.Wales}.Checked()
	if err != nil || tidy != good {
		t.Errorf("%+v, %v", tidy, err)
	}
	if got := good.OneLine(); got != "4 Tidewater Steps, Ambershaw, AB12 3XY" {
		t.Errorf("%q", got)
	}
	good.Line2 = "Quay House"
	if got := good.OneLine(); got != "4 Tidewater Steps, Quay House, Ambershaw, AB12 3XY" {
		t.Errorf("%q", got)
	}
	if _, err := (records.Property{}).Checked(); len(fieldsOf(err)) != 4 {
		t.Errorf("a blank address: %v", err)
	}
}

func TestContactChecked(t *testing.T) {
	good := records.Contact{Name: "Odalys Penhallow", Email: "odalys@home.example", Phone: "01632 960 214",
		Tenure: records.Landlord, Address: "1 Elm Row, Upham"}
	for name, c := range map[string]struct {
		edit        func(*records.Contact)
		field, says string
	}{
		"as it is": {func(*records.Contact) {}, "", ""},
		"only a name": {func(k *records.Contact) {
			*k = records.Contact{Name: "A", Tenure: records.Tenant}
		}, "", ""},
		"longest": {func(k *records.Contact) {
			k.Name, k.Phone, k.Address = long(80), long(30), long(200)
		}, "", ""},
		"longest e-mail": {func(k *records.Contact) {
			k.Email = strings.Repeat("a", 107) + "@home.example"
		}, "", ""},
		"no name":            {func(k *records.Contact) { k.Name = "" }, "name", "cannot be left blank"},
		"name too long":      {func(k *records.Contact) { k.Name = long(81) }, "name", "at most 80"},
		"telephone too long": {func(k *records.Contact) { k.Phone = long(31) }, "phone", "at most 30"},
		"address too long":   {func(k *records.Contact) { k.Address = long(201) }, "address", "at most 200"},
		"e-mail too long": {func(k *records.Contact) {
			k.Email = strings.Repeat("a", 108) + "@home.example"
		}, "email", "at most 120"},
		"no such e-mail":     {func(k *records.Contact) { k.Email = "odalys" }, "email", "such as name@firm.example"},
		"two e-mails":        {func(k *records.Contact) { k.Email = "a@b.example, c@d.example" }, "email", "such as"},
		"e-mail with a name": {func(k *records.Contact) { k.Email = "Odalys <a@b.example>" }, "email", "such as"},
		"tenure":             {func(k *records.Contact) { k.Tenure = "squire" }, "tenure", "one of owner-occupier"},
		"no tenure":          {func(k *records.Contact) { k.Tenure = "" }, "tenure", "one of owner-occupier"},
	} {
		k := good
		c.edit(&k)
		_, err := k.Checked()
		mustBeAbout(t, name, err, c.field, c.says)
	}
	// A header smuggled into an address must not reach a letter.
	k := good
	k.Email = "a@b.example\r\nBcc: c@d.example"
	if _, err := k.Checked(); err == nil {
		t.Error("an e-mail address of two lines is accepted")
	}
}

func TestConditionReportChecked(t *testing.T) {
	good := records.ConditionReport{Entries: []records.ConditionEntry{{Rule: "flue.joints", Class: records.AtRisk,
		Found: "one\ntwo", Done: "made safe"}}, Told: "the tenant", ToldHow: "in person"}
	for name, c := range map[string]struct {
		edit        func(*records.ConditionReport)
		field, says string
	}{
		"as it is":     {func(*records.ConditionReport) {}, "", ""},
		"not yet said": {func(c *records.ConditionReport) { *c = records.ConditionReport{} }, "", ""},
		"undecided":    {func(c *records.ConditionReport) { c.Entries[0].Class = "" }, "", ""},
		"longest": {func(c *records.ConditionReport) {
			c.Entries[0].Found, c.Told = long(2000), long(120)
		}, "", ""},
		"no rule": {func(c *records.ConditionReport) {
			c.Entries[0].Rule = ""
		}, "condition.entries[0].rule", "blank"},
		"unknown class": {func(c *records.ConditionReport) {
			c.Entries[0].Class = "grave"
		}, "condition.entries[0].class", "one of immediately"},
		"found": {func(c *records.ConditionReport) {
			c.Entries[0].Found = long(2001)
		}, "condition.entries[0].found", "2000"},
		"done": {func(c *records.ConditionReport) {
			c.Entries[0].Done = "a\x00b"
		}, "condition.entries[0].done", "control"},
		"told":     {func(c *records.ConditionReport) { c.Told = long(121) }, "condition.told", "at most 120"},
		"told how": {func(c *records.ConditionReport) { c.ToldHow = "a\nb" }, "condition.told_how", "one line"},
		"too many": {func(c *records.ConditionReport) {
			c.Entries = make([]records.ConditionEntry, 201)
		}, "condition.entries", "at most 200"},
	} {
		r := good
		r.Entries = append([]records.ConditionEntry(nil), good.Entries...)
		c.edit(&r)
		before := fmt.Sprintf("%+v", r)
		fixed, err := r.Checked()
		mustBeAbout(t, name, err, c.field, c.says)
		if err == nil && fixed == nil {
			t.Errorf("%s: nothing came back", name)
		}
		if after := fmt.Sprintf("%+v", r); after != before {
			t.Errorf("%s: what was given is changed", name)
		}
	}
	var none *records.ConditionReport
	if _, ok := none.Entry("flue.joints"); ok {
		t.Error("no report has an entry")
	}
	if e, ok := good.Entry("flue.joints"); !ok || e.Done != "made safe" {
		t.Errorf("%+v", e)
	}
	if _, ok := good.Entry("flue.fall"); ok {
		t.Error("an entry for another rule")
	}
}

func TestPhotosChecked(t *testing.T) {
	sum := strings.Repeat("0123456789abcdef", 4)
	good := records.Photo{SHA256: sum, Section: records.Flue.ID, Caption: "the terminal", Width: 1600, Height: 1200}
	for name, c := range map[string]struct {
		edit        func(*records.Photo)
		field, says string
	}{
		"as it is":        {func(*records.Photo) {}, "", ""},
		"smallest":        {func(p *records.Photo) { p.Width, p.Height, p.Caption = 1, 1, "" }, "", ""},
		"largest":         {func(p *records.Photo) { p.Width, p.Height, p.Caption = 10000, 10000, long(120) }, "", ""},
		"capitals":        {func(p *records.Photo) { p.SHA256 = strings.ToUpper(sum) }, "photos[0].sha256", "64 small"},
		"short":           {func(p *records.Photo) { p.SHA256 = sum[:62] }, "photos[0].sha256", "64 small"},
		"long":            {func(p *records.Photo) { p.SHA256 += "ab" }, "photos[0].sha256", "64 small"},
		"no hash":         {func(p *records.Photo) { p.SHA256 = "" }, "photos[0].sha256", "64 small"},
		"path":            {func(p *records.Photo) { p.SHA256 = "../" + sum[3:] }, "photos[0].sha256", "64 small"},
		"unknown section": {func(p *records.Photo) { p.Section = "chimney" }, "photos[0].section", "one of appliance"},
		"caption":         {func(p *records.Photo) { p.Caption = long(121) }, "photos[0].caption", "at most 120"},
		"no width":        {func(p *records.Photo) { p.Width = 0 }, "photos[0].width", "from 1 to 10000"},
		"negative":        {func(p *records.Photo) { p.Height = -1 }, "photos[0].width", "from 1 to 10000"},
		"too wide":        {func(p *records.Photo) { p.Width = 10001 }, "photos[0].width", "10001 × 1200"},
	} {
		p := good
		c.edit(&p)
		_, err := records.CheckedPhotos([]records.Photo{p})
		mustBeAbout(t, name, err, c.field, c.says)
	}
	many := make([]records.Photo, records.MaxPhotos)
	for i := range many {
		many[i] = good
	}
	if out, err := records.CheckedPhotos(many); err != nil || len(out) != 40 {
		t.Errorf("40 photos: %d, %v", len(out), err)
	}
	_, err := records.CheckedPhotos(append(many, good))
	mustBeAbout(t, "41 photos", err, "photos", "at most 40 photos")
	tidy, err := records.CheckedPhotos([]records.Photo{{SHA256: sum, Section: "flue", Caption: " a ", Width: 1,
		Height: 1}})
	if err != nil || tidy[0].Caption != "a" {
		t.Errorf("%+v, %v", tidy, err)
	}
	if out, err := records.CheckedPhotos(nil); out != nil || err != nil {
		t.Errorf("no photos: %v, %v", out, err)
	}
}

// Check names every wrong part of a record by its place in the document.
func TestRecordCheckNamesThePlace(t *testing.T) {
	for field, edit := range map[string]func(*records.Record){
		"purpose":               func(r *records.Record) { r.Purpose = "picnic" },
		"work_date":             func(r *records.Record) { r.WorkDate = records.Date{} },
		"property.town":         func(r *records.Record) { r.Property.Town = "" },
		"customer.name":         func(r *records.Record) { r.Contact.Name = "" },
		"engineer.name":         func(r *records.Record) { r.Engineer.Name = long(81) },
		"engineer.licence":      func(r *records.Record) { r.Engineer.Licence = long(41) },
		"firm.name":             func(r *records.Record) { r.Firm.Name = long(121) },
		"firm.address":          func(r *records.Record) { r.Firm.Address = long(201) },
		"firm.phone":            func(r *records.Record) { r.Firm.Phone = long(31) },
		"firm.email":            func(r *records.Record) { r.Firm.Email = long(121) },
		"firm.registration":     func(r *records.Record) { r.Firm.Registration = long(41) },
		"firm.logo_sha256":      func(r *records.Record) { r.Firm.Logo = "logo.jpg" },
		"instruments[0].serial": func(r *records.Record) { r.Instruments[0].Serial = "" },
		"instruments[0].make":   func(r *records.Record) { r.Instruments[0].Make = long(61) },
		"instruments[0].model":  func(r *records.Record) { r.Instruments[0].Model = long(61) },
		"photos[0].caption": func(r *records.Record) {
			r.Photos = []records.Photo{{SHA256: strings.Repeat("0", 64), Section: "flue", Caption: "a\nb", Width: 1,
				Height: 1}}
		},
		"condition.told": func(r *records.Record) { r.Condition = &records.ConditionReport{Told: "a\nb"} },
		"condition.entries[0].class": func(r *records.Record) {
			r.Condition = &records.ConditionReport{Entries: []records.ConditionEntry{{Rule: "a", Class: "x"}}}
		},
		"replaces":     func(r *records.Record) { r.Replaces = long(41) },
		"amend_reason": func(r *records.Record) { r.AmendReason = long(2001) },
	} {
		r := sample(t, "clear-combination-england")
		edit(r)
		if got := fieldsOf(r.Check()); len(got) != 1 || got[0] != field {
			t.Errorf("%s: about %q", field, got)
		}
	}
	if err := sample(t, "clear-combination-england").Check(); err != nil {
		t.Error(err)
	}
}
