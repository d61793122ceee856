package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"
)

// keepIssued writes the set of issued records that belongs to a register.
func (m *maker) keepIssued(to, register string) {
	set := issuedSet{Made: m.day, Schema: 1, Register: filepath.Base(register)}
	files, used := map[string][]byte{}, map[string]bool{}
	all := ""
	var schema map[string]any
	if err := json.Unmarshal([]byte(must(m.t, "", "schema")), &schema); err != nil {
		m.t.Fatal(err)
	}
	for _, r := range m.want.Records {
		f := issuedFile{
			Number: r.Number, Record: r.Number + ".record.json", Seal: r.Number + ".seal.json",
			Paper: "papers/" + r.Number + ".pdf", Kind: r.Kind, Purpose: r.Purpose, Standing: r.Standing,
		}
		inside := detach(m.t, filepath.Join(register, f.Paper))
		files[f.Record], files[f.Seal] = inside["record.json"], inside["seal.json"]
		set.Records = append(set.Records, f)
		all += string(files[f.Record])
		var doc struct{ Record map[string]any }
		if err := json.Unmarshal(files[f.Record], &doc); err != nil {
			m.t.Fatal(err)
		}
		uses(schema, doc.Record, "record", used)
	}
	for _, part := range []string{`"earlier":[`, `"photos":[`, `"logo_sha256":"`, `"condition":{`, `"left_off":true`,
		`"refused":true`, `"replaces":"`, `"office_phone":"`, `"office_email":"`, `"taken_over_from":`,
		`"amended_by":`, ownTable} {
		if !strings.Contains(all, part) {
			m.t.Errorf("no record of the set has %s", part)
		}
	}
	for _, name := range sortedKeys(used) {
		if !used[name] && neverSealed[name] == "" {
			m.t.Errorf("no record of the set has %s", name)
		}
	}
	if m.t.Failed() {
		m.t.Fatal("no set of issued records is written")
	}
	files["set.json"] = indented(m.t, set)
	writeSet(m.t, to, files)
}

// neverSealed are parts of a record that no sealed one has, and why.
var neverSealed = map[string]string{
	"record.condition.entries[].cause=": "a blank one is left out",
	"record.customer.email":             "papers go from hand to hand: the register alone has it",
	"record.customer.phone":             "papers go from hand to hand: the register alone has it",
	"record.firm.email":                 "sealed as office_email",
	"record.firm.phone":                 "sealed as office_phone",
}

// uses notes which parts of a schema a document has: every member, every code
// of a choice, both answers of a flag.
func uses(schema map[string]any, v any, name string, used map[string]bool) {
	note := func(part string, is bool) { used[part] = used[part] || is }
	codes, _ := schema["enum"].([]any)
	for _, code := range codes {
		note(fmt.Sprintf("%s=%v", name, code), v == code)
	}
	switch schema["type"] {
	case "boolean":
		note(name+"=yes", v == true)
		note(name+"=no", v == false)
	case "array":
		list, _ := v.([]any)
		item, _ := schema["items"].(map[string]any)
		for _, one := range append(list, nil) {
			uses(item, one, name+"[]", used)
		}
	case "object":
		members, _ := schema["properties"].(map[string]any)
		has, _ := v.(map[string]any)
		for member, of := range members {
			part, _ := of.(map[string]any)
			note(name+"."+member, has[member] != nil)
			uses(part, has[member], name+"."+member, used)
		}
	}
}
