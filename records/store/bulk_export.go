package store

import (
	"bufio"
	"bytes"
	"context"
	"crypto/ed25519"
	"database/sql"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"gorm.io/gorm"

	"gaugebook/records"
)

// Export writes the whole register as JSON lines, as it stood at one moment,
// and returns how many. A row is in memory at a time. Passwords, keys, links
// to customers, the audit log and the outbox are not in it.
func (s Bulk) Export(ctx context.Context, w io.Writer) (n int, err error) {
	return s.ExportSigned(ctx, w, time.Time{}, nil)
}

// ExportSigned is Export whose heading names the newest entry of the audit log,
// which stays behind, signed with the firm's key; without a key it is left out.
func (s Bulk) ExportSigned(ctx context.Context, w io.Writer, at time.Time, key ed25519.PrivateKey) (n int, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		x := &exporter{bulk: bulkOf(ctx, db), w: bufio.NewWriterSize(w, 64<<10)}
		defer x.close()
		x.begin("gaugebook register")
		x.value("format", lineFormat)
		if err := x.signed(db, at, key); err != nil {
			return err
		}
		x.end()
		for _, t := range lineTables {
			if err := x.table(t); err != nil {
				return fmt.Errorf("exporting %s: %w", t.name, err)
			}
		}
		n = x.n
		x.begin("end")
		x.value("lines", n)
		x.end()
		return x.w.Flush()
	})
	return n, err
}

// signed writes the newest entry of the log.
func (x *exporter) signed(db *gorm.DB, at time.Time, key ed25519.PrivateKey) error {
	last, err := newestEntry(db)
	if err != nil || key == nil || last.Seq == 0 {
		return err
	}
	text, err := toJSON(records.SignHead(*last.head(), at, key))
	if err != nil {
		return err
	}
	return x.raw("audit_log", text)
}

// exporter writes lines. Errors of writing are kept by w until Flush.
type exporter struct {
	*bulk
	w *bufio.Writer
	n int
}

func (x *exporter) begin(kind string) {
	x.w.WriteString(`{"line":`)
	x.put(kind)
}

func (x *exporter) end() {
	x.w.WriteString("}\n")
	x.n++
}

func (x *exporter) key(name string) {
	x.w.WriteString(`,"`)
	x.w.WriteString(name)
	x.w.WriteString(`":`)
}

func (x *exporter) value(name string, v any) {
	x.key(name)
	x.put(v)
}

func (x *exporter) put(v any) {
	switch v := v.(type) {
	case nil:
		x.w.WriteString("null")
	case int:
		x.w.WriteString(strconv.Itoa(v))
	case int64:
		x.w.WriteString(strconv.FormatInt(v, 10))
	case bool:
		x.put(map[bool]int{true: 1}[v])
	case []byte:
		x.w.WriteByte('"')
		e := base64.NewEncoder(base64.StdEncoding, x.w)
		e.Write(v)
		e.Close()
		x.w.WriteByte('"')
	case string:
		var b bytes.Buffer
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false)
		_ = e.Encode(v) // a string and a buffer cannot fail
		x.w.Write(bytes.TrimSuffix(b.Bytes(), []byte("\n")))
	}
}

// raw writes JSON as it is stored, on one line.
func (x *exporter) raw(name, text string) error {
	x.key(name)
	if !strings.ContainsAny(text, "\r\n") {
		x.w.WriteString(text)
		return nil
	}
	var b bytes.Buffer
	if err := json.Compact(&b, []byte(text)); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	x.w.Write(b.Bytes())
	return nil
}

func (x *exporter) table(t lineTable) error {
	columns := t.exported()
	query, from := selection(columns), " FROM "+t.name+" t"
	if t.table == recordTable {
		query += ", t." + strings.Join(slices.Concat(recordDocs, recordCopies), ", t.") +
			", t.taken_over, d.canonical, d.seal, p.pdf"
		from += ` LEFT JOIN issued_documents d ON d.record_n = t.n
			LEFT JOIN issued_prints p ON p.record_n = t.n`
	}
	return x.each("SELECT "+query+from+" ORDER BY "+t.order, nil, func(r *sql.Rows) error {
		names, err := r.Columns()
		if err != nil {
			return err
		}
		values, into := make([]any, len(names)), make([]any, len(names))
		for i := range values {
			into[i] = &values[i]
		}
		if err := r.Scan(into...); err != nil {
			return err
		}
		x.begin(t.kind)
		for i, c := range columns {
			if text, ok := values[i].(string); ok && c.json() {
				if err := x.raw(c.key(), text); err != nil {
					return err
				}
				continue
			}
			x.value(c.key(), values[i])
		}
		if t.table == recordTable {
			if err := x.record(values[len(columns):]); err != nil {
				return err
			}
		}
		x.end()
		return nil
	})
}

// record writes the rest of a record's line: a draft's columns, or of an
// issued record what was sealed and printed, which everything else follows
// from.
func (x *exporter) record(v []any) error {
	docs, copies, issued := v[:len(recordDocs)], v[len(recordDocs):len(v)-4], v[len(v)-3:]
	takenOver, _ := v[len(v)-4].(string)
	canonical, sealed := issued[0].([]byte)
	if !sealed {
		for i, name := range recordDocs {
			if err := x.raw(name, docs[i].(string)); err != nil {
				return err
			}
		}
		for i, name := range recordCopies {
			x.value(name, copies[i])
		}
		if takenOver != "" {
			return x.raw("taken_over", takenOver)
		}
		return nil
	}
	if bytes.ContainsAny(canonical, "\r\n") {
		return fmt.Errorf("the canonical JSON has more than one line")
	}
	x.key("canonical")
	x.w.Write(canonical)
	if err := x.raw("seal", issued[1].(string)); err != nil {
		return err
	}
	x.value("pdf", issued[2])
	return nil
}

// selection lists the columns for a query of t, rows of other tables by id.
func selection(columns []column) string {
	out := make([]string, len(columns))
	for i, c := range columns {
		out[i] = "t." + c.name
		if of := c.of(); of != "" {
			out[i] = "(SELECT id FROM " + of + " ref WHERE ref.n = t." + c.name + ")"
		}
	}
	return strings.Join(out, ", ")
}
