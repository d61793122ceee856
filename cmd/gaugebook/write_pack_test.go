package main

import (
	"bytes"
	"compress/gzip"
	"database/sql"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// gather asks the program what the register holds, stops it, and returns the
// papers of the issued records by file name.
func (m *maker) gather() (papers map[string][]byte) {
	api, owner := m.keys["owner"], m.as("owner")
	papers = map[string][]byte{}
	for _, one := range m.records {
		r := api.record(one.ID)
		paper := owner.get("/records/" + r.ID + "/pdf").body
		papers[r.Number+".pdf"] = paper
		m.want.Records = append(m.want.Records, keptRecordOf(r, paper))
	}
	sortBy(m.want.Records, func(r keptRecord) string { return r.Number })
	m.want.People = m.keptPeople()
	m.want.Appliances = appliancesOf(api)
	var retired gotAppliance // no longer in the list
	api.call(http.MethodGet, "/appliances/"+m.appliances["flueless"], nil, &retired, http.StatusOK)
	m.want.Appliances = append(m.want.Appliances, keptApplianceOf(retired))
	m.stop()
	m.fromTables()
	return papers
}

func keptRecordOf(r gotRecord, paper []byte) keptRecord {
	plate := r.Record.Sections["appliance"]
	return keptRecord{
		ID: r.ID, Number: r.Number, Code: r.Code, Stage: r.Stage, Standing: r.Standing,
		Purpose: r.Record.Purpose, WorkDate: r.Record.WorkDate, Engineer: r.Record.Engineer.Name,
		Kind: fmt.Sprint(plate["kind"]), Serial: fmt.Sprint(plate["serial"]),
		SHA256: r.SHA256, PaperSHA256: sumOf(paper),
		Replaces: r.Record.Replaces, ReplacedBy: r.ReplacedBy, WithdrawnWhy: r.WithdrawnWhy,
	}
}

// gotAppliance is an appliance as the API gives it.
type gotAppliance struct {
	ID      string         `json:"id"`
	Values  map[string]any `json:"values"`
	Retired bool           `json:"retired"`
	Duties  []struct {
		ID       string `json:"id"`
		Kind     string `json:"kind"`
		Due      string `json:"due"`
		State    string `json:"state"`
		ClosedAt string `json:"closed_at"`
	} `json:"duties"`
	History []struct {
		ID string `json:"id"`
	} `json:"history"`
}

// appliancesOf reads every appliance in use, with its duties and visits.
func appliancesOf(api keyed) (out []keptAppliance) {
	api.v.tb.Helper()
	for after := ""; ; {
		var list struct {
			Appliances []struct{ ID string }
			Next       string
		}
		api.call(http.MethodGet, "/appliances?sort=address&limit=500&after="+after, nil, &list, http.StatusOK)
		for _, line := range list.Appliances {
			var a gotAppliance
			api.call(http.MethodGet, "/appliances/"+line.ID, nil, &a, http.StatusOK)
			out = append(out, keptApplianceOf(a))
		}
		if after = list.Next; after == "" {
			return out
		}
	}
}

// keptApplianceOf leaves out what changes by itself as time goes on: an open
// duty is ahead, near or late.
func keptApplianceOf(a gotAppliance) keptAppliance {
	out := keptAppliance{ID: a.ID, Kind: fmt.Sprint(a.Values["kind"]), Retired: a.Retired}
	if serial, ok := a.Values["serial"].(string); ok {
		out.Serial = serial
	}
	for _, d := range a.Duties {
		if d.ClosedAt == "" {
			d.State = "open"
		}
		out.Duties = append(out.Duties, keptDuty{ID: d.ID, Kind: d.Kind, Due: d.Due, State: d.State})
	}
	sortBy(out.Duties, func(d keptDuty) string { return d.ID })
	for _, h := range a.History {
		out.Visits = append(out.Visits, h.ID)
	}
	sortBy(out.Visits, func(id string) string { return id })
	return out
}

// fromTables reads from the file what no page tells in full. Only here, where
// a register is written, are the names of today's tables used.
func (m *maker) fromTables() {
	if left, _ := filepath.Glob(filepath.Join(m.dir, "register.db-*")); len(left) > 0 {
		m.t.Fatalf("the register is in several files: %v", left)
	}
	db := openDB(m.t, m.dir)
	defer db.Close()
	query := func(q string, each func(*sql.Rows) error) {
		m.t.Helper()
		rows, err := db.Query(q)
		if err != nil {
			m.t.Fatalf("%s: %v", q, err)
		}
		defer rows.Close()
		for rows.Next() {
			if err := each(rows); err != nil {
				m.t.Fatal(err)
			}
		}
		if err := rows.Err(); err != nil {
			m.t.Fatal(err)
		}
	}
	const messages = "SELECT state, to_email, subject, iif(state = 'due', next_at, '') FROM outbox ORDER BY n"
	query(messages, func(r *sql.Rows) error {
		var k keptMessage
		err := r.Scan(&k.State, &k.To, &k.Subject, &k.Next)
		m.want.Messages = append(m.want.Messages, k)
		return err
	})
	query("SELECT max(version_id) FROM goose_db_version", func(r *sql.Rows) error { return r.Scan(&m.want.Schema) })
	m.want.Rows = rowsOf(m.t, db)
	var empty []string
	for table, n := range m.want.Rows {
		if n == 0 {
			empty = append(empty, table)
		}
	}
	if len(empty) > 0 {
		m.t.Errorf("nothing was put into %v: the scenario must fill every table", empty)
	}
	m.states(query)
}

// states holds the register against the states that its rows must be in
// between them.
func (m *maker) states(query func(string, func(*sql.Rows) error)) {
	const issued = "records WHERE number <> ''"
	for _, s := range [][3]string{
		{"state", "outbox", "due failed sent unsure"},
		{"stage", "records", "amended draft issued withdrawn"},
		{"standing", issued, "adverse attention clear open"},
		{"taken_over <> ''", issued, "0 1"},
		{"purpose", issued, "commissioning landlord check remedial service"},
		{"json_extract(doc, '$.sections.appliance.kind')", issued, "boiler-combination boiler-regular boiler-system " +
			"cooker fire flueless-heater range-cooker warm-air water-heater"},
		{"state", "duties", "done lifted open"},
		{"state", "bookings", "booked cancelled done"},
		{"state", "webhook_deliveries", "delivered due"},
		{"ended_at <> ''", "webhooks", "0 1"},
		{"outcome", "contact_requests", " confirmed refused"},
		{"handled_at <> ''", "visit_requests", "0 1"},
		{"ended_why", "invites", " revoked used"},
		{"channel", "reminders", "e-mail letter"},
		{"role", "people", "engineer office owner"},
		{"active", "people", "0 1"},
		{"nation", "properties", "England Northern Ireland Scotland Wales"},
		{"contact_tenure", "properties", " agent landlord owner-occupier tenant"},
		{"retired", "appliances", "0 1"},
		{"revoked_at <> ''", "links", "0 1"},
		{"revoked_at <> ''", "keys", "0 1"},
		{"scope", "keys", "enter issue read"},
		{"last_used_at <> ''", "keys", "0 1"},
		{"accuracy <> '[]'", "instruments", "0 1"},
		{"kind <> ''", "owner_limits", "0 1"},
		{"origin <> ''", "audit", "0 1"},
		{"key_id <> ''", "audit", "0 1"},
		{"count(DISTINCT public_key)", "audit_heads", "2"},
		{"revoked_at <> ''", "feeds", "0 1"},
		{"state", "once_keys", "answered"},
		{"why", "kept_versions", "discarded refused"},
	} {
		var got []string
		query("SELECT DISTINCT "+s[0]+" FROM "+s[1]+" ORDER BY 1", func(r *sql.Rows) error {
			var one string
			err := r.Scan(&one)
			got = append(got, one)
			return err
		})
		if strings.Join(got, " ") != s[2] {
			m.t.Errorf("%s of %s are %q, want %q", s[0], s[1], got, s[2])
		}
	}
}

// rowsOf counts the rows of every table.
func rowsOf(tb testing.TB, db *sql.DB) map[string]int {
	tb.Helper()
	rows, err := db.Query("SELECT name FROM sqlite_master WHERE type = 'table'")
	if err != nil {
		tb.Fatal(err)
	}
	out := map[string]int{}
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			tb.Fatal(err)
		}
		out[name] = 0
	}
	if err := rows.Err(); err != nil {
		tb.Fatal(err)
	}
	rows.Close()
	for name := range out {
		var n int
		if err := db.QueryRow(`SELECT count(*) FROM "` + name + `"`).Scan(&n); err != nil {
			tb.Fatalf("%s: %v", name, err)
		}
		out[name] = n
	}
	return out
}

// keep writes the set, unless something was wrong with it.
func (m *maker) keep(to string, papers map[string][]byte) {
	if m.t.Failed() {
		m.t.Fatal("nothing is written")
	}
	db := read(m.t, filepath.Join(m.dir, "register.db"))
	m.want.Register.SHA256, m.want.Register.Size = sumOf(db), len(db)
	files := map[string][]byte{"expected.json": indented(m.t, m.want)}
	files["firm.key"] = read(m.t, filepath.Join(m.dir, "firm.key"))
	for name, paper := range papers {
		files["papers/"+name] = paper
	}
	for _, name := range filesBelow(m.t, filepath.Join(m.dir, "photos")) {
		files["photos/"+name] = read(m.t, filepath.Join(m.dir, "photos", name))
	}
	files["register.fill"] = leaveOut(db, papers)
	var zipped bytes.Buffer
	w, err := gzip.NewWriterLevel(&zipped, gzip.BestCompression)
	if err == nil {
		_, err = w.Write(db)
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		m.t.Fatal(err)
	}
	files["register.db.gz"] = zipped.Bytes()
	writeSet(m.t, to, files)
}

func indented(tb testing.TB, v any) []byte {
	tb.Helper()
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(v); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

// writeSet writes a set's files and their sums, into a folder of its own.
func writeSet(tb testing.TB, to string, files map[string][]byte) {
	tb.Helper()
	var sums strings.Builder
	for _, name := range sortedKeys(files) {
		fmt.Fprintf(&sums, "%s  %s\n", sumOf(files[name]), name)
	}
	files["SHA256SUMS"] = []byte(sums.String())
	for name, data := range files {
		file := filepath.Join(to, name)
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			tb.Fatal(err)
		}
		if err := os.WriteFile(file, data, 0o644); err != nil {
			tb.Fatal(err)
		}
	}
}
