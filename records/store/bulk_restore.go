package store

import (
	"bufio"
	"bytes"
	"context"
	"database/sql"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"gaugebook/records"
)

// maxLine is more than the line of any record can be: its JSON, its print and
// its photos' hashes.
const maxLine = 64 << 20

// RestoreOptions say where the lines come from. Seals, if set, decides
// whether a seal may be one of the firm's.
type RestoreOptions struct {
	Source string
	Seals  func(seal records.Seal, canonical []byte) bool
}

// Restore fills an empty register with the lines that Export wrote: all of
// them or none. Every seal must hold, the numbers must have no gap. Nobody
// has a password afterwards. Errors: Conflict when the register is not empty;
// Invalid for a line that cannot be taken, which it names.
func (s Bulk) Restore(ctx context.Context, actor records.Actor, opt RestoreOptions,
	in io.Reader) (count map[string]int, err error) {
	err = s.write(ctx, actor, func(t *tx) error {
		r := &restorer{bulk: bulkOf(ctx, t.DB), tx: t, opt: opt, count: map[string]int{}}
		r.sealed = map[string]string{}
		defer r.close()
		if err := r.empty(); err != nil {
			return err
		}
		index, err := r.pauseIndex(true)
		if err != nil {
			return err
		}
		if err := r.lines(in); err != nil {
			return err
		}
		if err := errors.Join(r.finish(), index.resume()); err != nil {
			return err
		}
		count = r.count
		sum := newSealedSum()
		for _, number := range slices.Sorted(maps.Keys(r.sealed)) {
			sum.add(number, r.sealed[number])
		}
		return t.log("register imported", opt.Source, detail{"source": opt.Source, "lines": r.count,
			"sealed": sum.count, "digest": sum.text()})
	})
	if err != nil {
		return nil, err
	}
	return count, nil
}

type restorer struct {
	*bulk
	tx    *tx
	opt   RestoreOptions
	count map[string]int
	// sealed is the hash of each issued record by its number.
	sealed  map[string]string
	changes []records.KeyChange // of the firm's key
}

func (r *restorer) empty() error {
	for _, t := range append([]lineTable{{table: auditTable}}, lineTables...) {
		n := 0
		if err := r.each("SELECT 1 FROM "+t.name+" LIMIT 1", nil, func(rows *sql.Rows) error {
			return rows.Scan(&n)
		}); err != nil {
			return err
		}
		if n > 0 {
			return records.Fail(records.Conflict, "the register is not empty (there is something in "+t.name+
				"): a whole register is taken into an empty one only")
		}
	}
	return nil
}

func badLine(n int, msg, want string) error {
	return &records.Error{Kind: records.Invalid, Field: fmt.Sprintf("line %d", n), Msg: msg, Want: want}
}

// lines takes in every line of a file.
func (r *restorer) lines(in io.Reader) error {
	scan := bufio.NewScanner(in)
	scan.Buffer(make([]byte, 0, 64<<10), maxLine)
	n, ended := 0, false
	var err error
	for err == nil && scan.Scan() {
		n++
		if ended {
			err = badLine(n, "there is more after the end", "")
		} else {
			ended, err = r.take(n, scan.Bytes())
		}
	}
	// A reading that fails leaves part of a line, which is not the file's fault.
	switch failed := scan.Err(); {
	case errors.Is(failed, bufio.ErrTooLong):
		return badLine(n+1, fmt.Sprintf("longer than %d MB", maxLine>>20), "")
	case failed != nil:
		return fmt.Errorf("reading line %d: %w", n+1, failed)
	case err == nil && !ended:
		return badLine(n+1, "the file ends before its end: it was cut off", "the whole file")
	}
	return err
}

// take takes in the nth line and reports whether it is the end.
func (r *restorer) take(n int, text []byte) (end bool, err error) {
	var line map[string]json.RawMessage
	var kind string
	if err := json.Unmarshal(text, &line); err != nil || json.Unmarshal(line["line"], &kind) != nil {
		return false, badLine(n, "not a JSON object that says what line it is",
			"a file that “gaugebook export” wrote")
	}
	switch {
	case n == 1:
		if kind != "gaugebook register" || string(line["format"]) != fmt.Sprint(lineFormat) {
			err = badLine(n, "not the heading of a register",
				fmt.Sprintf("a file that “gaugebook export” wrote, format %d", lineFormat))
		}
		return false, err
	case kind == "end":
		if string(line["lines"]) != fmt.Sprint(n-1) {
			err = badLine(n, fmt.Sprintf("the end counts %s lines, there are %d", line["lines"], n-1), "the whole file")
		}
		return err == nil, err
	}
	if err := r.line(kind, line); err != nil && r.ctx.Err() == nil {
		return false, badLine(n, kind+": "+err.Error(), "the line as it was exported")
	} else if err != nil {
		return false, err
	}
	return false, nil
}

func (r *restorer) line(kind string, line map[string]json.RawMessage) error {
	for _, t := range lineTables {
		if t.kind != kind {
			continue
		}
		r.count[kind]++
		values, err := r.values(t, line)
		if err != nil {
			return err
		}
		return r.insert(t, line, values)
	}
	return errors.New("there is no such kind of line")
}

// values reads the columns of a line, with references looked up.
func (r *restorer) values(t lineTable, line map[string]json.RawMessage) (map[string]any, error) {
	out := map[string]any{}
	for _, c := range t.exported() {
		raw, ok := line[c.key()]
		if !ok {
			return nil, fmt.Errorf("there is no %s", c.key())
		}
		if c.json() {
			out[c.name] = string(raw)
			continue
		}
		v, err := plainValue(raw)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.key(), err)
		}
		if id, isText := v.(string); c.of() != "" && isText {
			if v, err = r.numberOf(c.of(), id); err != nil {
				return nil, err
			}
		}
		out[c.name] = v
	}
	return out, nil
}

func plainValue(raw json.RawMessage) (any, error) {
	if string(raw) == "null" {
		return nil, nil
	}
	if len(raw) > 0 && raw[0] == '"' {
		var s string
		err := json.Unmarshal(raw, &s)
		return s, err
	}
	var n int64
	if err := json.Unmarshal(raw, &n); err != nil {
		return nil, errors.New("neither text nor a whole number")
	}
	return n, nil
}

func (r *restorer) numberOf(table, id string) (n int64, err error) {
	err = r.each("SELECT n FROM "+table+" WHERE id = ?", []any{id}, func(rows *sql.Rows) error { return rows.Scan(&n) })
	if err == nil && n == 0 {
		err = fmt.Errorf("no line before it holds %q of %s", clip(id), table)
	}
	return n, err
}

// insert writes the row of a line. Some kinds hold more than their line says.
func (r *restorer) insert(t lineTable, line map[string]json.RawMessage, v map[string]any) error {
	switch t.table {
	case firmTable, chaseSettingsTable:
		v["one"] = 1
	case peopleTable:
		v["password_hash"] = ""
	case propertyTable:
		return r.property(v)
	case applianceTable:
		return r.appliance(v)
	case recordTable:
		return r.record(line, v)
	case dropBandsTable:
		if err := checkBands(v); err != nil {
			return err
		}
	case firmKeyTable:
		r.changes = append(r.changes, firmKeyRow{PublicKey: text(v, "public_key"), NextKey: text(v, "next_key"),
			At: text(v, "at"), ByOld: text(v, "by_old"), ByNew: text(v, "by_new")}.handedOver())
	case ownerLimitTable:
		if err := checkOwnerLimit(v); err != nil {
			return err
		}
	}
	columns, args := make([]string, 0, len(v)), make([]any, 0, len(v))
	for _, c := range t.columns {
		if value, ok := v[c.name]; ok {
			columns, args = append(columns, c.name), append(args, value)
		}
	}
	return r.exec("INSERT INTO "+t.name+" ("+strings.Join(columns, ", ")+") VALUES (?"+
		strings.Repeat(", ?", len(args)-1)+")", args...)
}

// next is the number of the next row of a kind of line. The tables were empty,
// and these are the kinds whose rows are written nowhere else.
func (r *restorer) next(kind string) int64 { return int64(r.count[kind]) }

func text(v map[string]any, name string) string { s, _ := v[name].(string); return s }

// property is written as it was, whatever today's entry rules say of it.
func (r *restorer) property(v map[string]any) error {
	for name, value := range v {
		if _, isText := value.(string); !isText {
			return fmt.Errorf("%s is not text", name)
		}
	}
	row := propertyRow{N: r.next("property"), ID: text(v, "id"), Line1: text(v, "line1"), Line2: text(v, "line2"),
		Town: text(v, "town"), Postcode: text(v, "postcode"), Nation: text(v, "nation"),
		ContactName: text(v, "contact_name"), ContactEmail: text(v, "contact_email"),
		ContactPhone: text(v, "contact_phone"), ContactTenure: text(v, "contact_tenure"),
		ContactAddress: text(v, "contact_address"), CreatedAt: text(v, "created_at")}
	return r.bulk.insert(propertyTable, row)
}

// appliance is written with what the register shows of the property; what
// duties and records add is written at the end.
func (r *restorer) appliance(v map[string]any) error {
	n, _ := v["property_n"].(int64)
	retired := v["retired"]
	if retired != int64(0) && retired != int64(1) {
		return errors.New("retired is neither 0 nor 1")
	}
	values, err := storedValues(text(v, "doc"))
	if err != nil {
		return err
	}
	row := applianceRow{N: r.next("appliance"), ID: text(v, "id"), PropertyN: n, Due: noDue, NoService: true,
		NoLandlord: true, Retired: retired == int64(1), RetiredWhy: text(v, "retired_why"),
		CreatedAt: text(v, "created_at")}
	if err := row.setValues(values); err != nil {
		return err
	}
	row.Doc = text(v, "doc")
	var p propertyRow
	err = r.each("SELECT "+propertyTable.list("")+" FROM properties WHERE n = ?", []any{n},
		func(rows *sql.Rows) error { return rows.Scan(propertyTable.into(&p)...) })
	if err != nil {
		return err
	}
	row.setProperty(p.entry(), nil)
	return r.bulk.insert(applianceTable, row)
}

func (r *restorer) record(line map[string]json.RawMessage, v map[string]any) error {
	row := recordRow{N: r.next("record"), ID: text(v, "id"), Stage: text(v, "stage"),
		EngineerID: text(v, "engineer_id"), ReplacedBy: text(v, "replaced_by"), WithdrawnWhy: text(v, "withdrawn_why"),
		CreatedAt: text(v, "created_at"), UpdatedAt: text(v, "updated_at")}
	row.ApplianceN, _ = v["appliance_n"].(int64)
	revision, _ := v["revision"].(int64)
	row.Revision = int(revision)
	if row.Stage == string(records.Draft) {
		return r.draft(line, row)
	}
	seal, err := records.UnmarshalSeal(line["seal"])
	if err != nil {
		return err
	}
	canonical := []byte(line["canonical"])
	if !seal.Holds(canonical, seal.PublicKey) {
		return errors.New("the seal does not hold: the record is not as it was issued")
	}
	if !r.ours(seal, canonical) {
		return errors.New("it was sealed with another key: put the firm.key of the register it comes from into this " +
			"folder first")
	}
	issued, err := records.DecodeIssued(canonical)
	if err != nil {
		return err
	}
	if err := row.setRecord(issued.Record); err != nil {
		return err
	}
	row.Rejected, row.Number, row.Code, row.SHA256, row.IssuedAt = "null", issued.Number, seal.Code, seal.SHA256,
		stamp(issued.IssuedAt)
	if len(issued.TakenOverFrom) > 0 {
		if row.TakenOver, err = toJSON(issued.TakenOverFrom); err != nil {
			return err
		}
	}
	r.sealed[row.Number] = row.SHA256
	if err := r.bulk.insert(recordTable, row); err != nil {
		return err
	}
	if err := r.bulk.insert(documentTable, documentRow{row.N, canonical, string(line["seal"])}); err != nil {
		return err
	}
	return r.print(line["pdf"], row.N)
}

// ours reports whether a seal may be one of the firm's: of its key, or of one
// from which that follows.
func (r *restorer) ours(seal records.Seal, canonical []byte) bool {
	if r.opt.Seals == nil || r.opt.Seals(seal, canonical) {
		return true
	}
	for _, c := range r.changes {
		if c.Holds() && bytes.Equal(c.Old, seal.PublicKey) {
			seal.PublicKey = c.New
			if r.opt.Seals(seal, canonical) {
				return true
			}
		}
	}
	return false
}

func (r *restorer) print(raw json.RawMessage, n int64) error {
	if len(raw) == 0 || string(raw) == "null" {
		return nil // it is printed when it is first asked for
	}
	pdf, err := base64.StdEncoding.DecodeString(string(bytes.Trim(raw, `"`)))
	if err != nil || !isPDF(pdf) {
		return errors.New("the printed record is no PDF in base 64")
	}
	return r.bulk.insert(printTable, printRow{n, pdf})
}

func (r *restorer) draft(line map[string]json.RawMessage, row recordRow) error {
	row.Doc, row.Rejected, row.Findings = string(line["doc"]), string(line["rejected"]), string(line["findings"])
	row.TakenOver = string(line["taken_over"]) // not in a line of before
	into := map[string]*string{"purpose": &row.Purpose, "standing": &row.Standing, "work_date": &row.WorkDate,
		"engineer": &row.Engineer, "replaces": &row.Replaces}
	for name, to := range into {
		if err := json.Unmarshal(line[name], to); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	if err := json.Unmarshal(line["schema"], &row.Schema); err != nil {
		return fmt.Errorf("schema: %w", err)
	}
	if _, err := row.record(""); err != nil {
		return err
	}
	return r.bulk.insert(recordTable, row)
}
