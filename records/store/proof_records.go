package store

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"reflect"
	"slices"
	"strings"

	"gaugebook/records"
)

// issueEntry is what the log says of an issue.
type issueEntry struct {
	seq            int64
	number, sha256 string
}

const issueEntries = "SELECT seq, detail FROM audit WHERE subject = ? AND what = 'record issued' ORDER BY seq"

func (p *prover) issueEntries(id string) (out []issueEntry, err error) {
	err = p.each(issueEntries, []any{id}, func(r *sql.Rows) error {
		var e issueEntry
		var text string
		if err := r.Scan(&e.seq, &text); err != nil {
			return err
		}
		e.read(text)
		out = append(out, e)
		return nil
	})
	return out, err
}

// read takes number and sum from the details of the entry; of what cannot be
// read they stay blank.
func (e *issueEntry) read(detail string) {
	var d struct{ Number, SHA256 string }
	if json.Unmarshal([]byte(detail), &d) == nil {
		e.number, e.sha256 = d.Number, d.SHA256
	}
}

// sealedSum sums up records that have no entry of their own.
type sealedSum struct {
	count int
	hash  hash.Hash
}

func (s *sealedSum) add(number, sum string) {
	s.count++
	fmt.Fprintf(s.hash, "%s %s\n", number, sum)
}

func (s *sealedSum) text() string { return hex.EncodeToString(s.hash.Sum(nil)) }

var issuedColumns = recordTable.list("r") + `, d.canonical, d.seal, p.pdf FROM records r
	LEFT JOIN issued_documents d ON d.record_n = r.n LEFT JOIN issued_prints p ON p.record_n = r.n
	WHERE r.number <> ''`

// records holds every issued record against its seal, its entry in the log and
// the columns that it is listed by.
func (p *prover) records() error {
	without := sealedSum{hash: sha256.New()}
	rows, err := p.db.Raw("SELECT " + issuedColumns + " ORDER BY r.number").Rows()
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var row recordRow
		var canonical, print []byte
		var seal sql.NullString
		if err := rows.Scan(append(recordTable.into(&row), &canonical, &seal, &print)...); err != nil {
			return err
		}
		p.Records++
		entries, err := p.issueEntries(row.ID)
		if err != nil {
			return err
		}
		if len(entries) == 0 {
			without.add(row.Number, row.SHA256)
		}
		if err := p.record(row, canonical, seal.String, entries); err != nil {
			return err
		}
		if p.opt.Print != nil && print != nil {
			p.Prints++
			if err := p.opt.Print(row.Number, print); err != nil {
				p.tell("the print of record %s: %w", row.Number, err)
			}
		}
		if p.opt.Photos {
			p.pictures(row, len(entries) == 0)
		}
	}
	if err := rows.Err(); err != nil {
		return err
	}
	switch {
	case p.digest != "" && (without.count != p.taken || without.text() != p.digest):
		p.tell("%d records have no entry of their issue in the log, and they are not the %d that came with the whole "+
			"register", without.count, p.taken)
	case p.digest == "" && without.count > p.taken:
		p.tell("%d records have no entry of their issue in the log", without.count-p.taken)
	}
	return p.issuesWithoutRecord()
}

// record holds one record against all that tells of it.
func (p *prover) record(row recordRow, canonical []byte, sealText string, entries []issueEntry) error {
	seal, err := records.UnmarshalSeal([]byte(sealText))
	if err != nil || seal.SHA256 != row.SHA256 || seal.Code != row.Code || !seal.Holds(canonical, seal.PublicKey) {
		p.flaw(notAsIssued(row.Number))
		return nil
	}
	if !p.ours(seal.PublicKey) {
		p.tell("record %s is sealed with another key than the firm's, %s", row.Number, records.KeyName(seal.PublicKey))
	}
	issued, err := records.DecodeIssued(canonical)
	if err != nil {
		p.tell("record %s: what was sealed cannot be read: %w", row.Number, err)
		return nil
	}
	if column := row.differs(issued); column != "" {
		p.tell("record %s shows another %s than was sealed", row.Number, column)
	}
	for i, e := range entries {
		switch {
		case i > 0:
			p.inLog(e.seq, "tells of the issue of record "+row.Number+" once more")
		case e.number != row.Number || e.sha256 != row.SHA256:
			p.inLog(e.seq, "tells of the issue of record "+e.number+", which is not as it says")
		}
	}
	if issued.Log == nil || len(entries) == 0 {
		return nil // of an earlier version, or of the log of another file
	}
	hash := ""
	if err := p.each("SELECT hash FROM audit WHERE seq = ? AND seq < ?", []any{issued.Log.Entry, entries[0].seq},
		func(r *sql.Rows) error { return r.Scan(&hash) }); err != nil {
		return err
	}
	if hash != issued.Log.Hash {
		p.inLog(issued.Log.Entry, "is not the one that record "+row.Number+" names: the log was written again")
	}
	return nil
}

// differs names a column that says otherwise than what was sealed.
func (row recordRow) differs(issued records.Issued) string {
	is := recordRow{}
	if err := is.setRecord(issued.Record); err != nil {
		return "content"
	}
	shown, err := row.record("")
	if err != nil {
		return "content"
	}
	for _, c := range []struct {
		name string
		same bool
	}{
		{name: "number", same: row.Number == issued.Number},
		{name: "time of issue", same: row.IssuedAt == stamp(issued.IssuedAt)},
		{name: "purpose", same: row.Purpose == is.Purpose},
		{name: "standing", same: row.Standing == string(issued.Standing)},
		{name: "date of the work", same: row.WorkDate == is.WorkDate},
		{name: "engineer", same: row.Engineer == is.Engineer},
		{name: "record that it replaces", same: row.Replaces == is.Replaces},
		{name: "content", same: row.Doc == is.Doc || shown.SealedAs(issued.Record)},
		{name: "findings", same: row.Findings == is.Findings || sameFindings(shown.Findings, issued.Findings)},
	} {
		if !c.same {
			return c.name
		}
	}
	return ""
}

// sameFindings compares findings but for the fields that they name, which may
// have been renamed since.
func sameFindings(a, b []records.Finding) bool {
	return slices.EqualFunc(a, b, func(x, y records.Finding) bool {
		x.Fields, y.Fields = nil, nil
		return reflect.DeepEqual(x, y)
	})
}

// issuesWithoutRecord looks for records that the log tells of and that are not
// there, and for what it says of their end.
func (p *prover) issuesWithoutRecord() error {
	err := p.each(`SELECT l.seq, l.detail FROM audit l WHERE l.what = 'record issued'
		AND NOT EXISTS (SELECT 1 FROM records r WHERE r.id = l.subject AND r.number <> '')
		ORDER BY l.seq LIMIT 20`, nil,
		func(r *sql.Rows) error {
			var seq int64
			var text string
			if err := r.Scan(&seq, &text); err != nil {
				return err
			}
			var e issueEntry
			e.read(text)
			p.inLog(seq, "tells of the issue of record "+e.number+", which is gone")
			return nil
		})
	if err != nil {
		return err
	}
	if err := p.numbersOf(`SELECT r.number FROM records r JOIN audit l ON l.subject = r.id
		WHERE l.what = 'record withdrawn' AND r.stage <> 'withdrawn' ORDER BY r.number LIMIT 20`,
		"was withdrawn, as the log says, and counts as in force"); err != nil {
		return err
	}
	return p.numbersOf(`SELECT r.number FROM records r WHERE r.stage = 'withdrawn'
		AND EXISTS (SELECT 1 FROM audit l WHERE l.subject = r.id AND l.what = 'record issued')
		AND NOT EXISTS (SELECT 1 FROM audit l WHERE l.subject = r.id AND l.what = 'record withdrawn')
		ORDER BY r.number LIMIT 20`, "counts as withdrawn, and the log does not say so")
}

// replaced looks at records that others took the place of.
func (p *prover) replaced() error {
	if err := p.numbersOf(`SELECT r.number FROM records r WHERE r.stage = 'amended' AND NOT EXISTS (SELECT 1
		FROM records a WHERE a.number <> '' AND a.number = r.replaced_by AND a.replaces = r.number)
		ORDER BY r.number LIMIT 20`, "counts as amended, and there is no record in its place"); err != nil {
		return err
	}
	return p.numbersOf(`SELECT r.number FROM records a JOIN records r ON r.number = a.replaces
		WHERE a.number <> '' AND a.replaces <> '' AND r.stage <> 'amended' ORDER BY r.number LIMIT 20`,
		"was amended and counts as "+"in force")
}

// numbersOf tells of each record that a query finds.
func (p *prover) numbersOf(query, what string) error {
	return p.each(query, nil, func(r *sql.Rows) error {
		var number string
		err := r.Scan(&number)
		p.tell("record %s %s", number, what)
		return err
	})
}

func (p *prover) numbers() error {
	if err := verifyNumbers(p.db); err != nil {
		if records.KindOf(err) != records.Internal || !strings.HasPrefix(err.Error(), "the numbers of") {
			return err
		}
		p.flaw(err)
	}
	return p.skipped()
}

func (p *prover) prints() error {
	err := verifyPrints(p.db)
	if err != nil && strings.HasPrefix(err.Error(), "record ") {
		p.flaw(err)
		return nil
	}
	return err
}

// pictures reads every picture that a record names. Those of a record that came
// with a whole register may have stayed behind.
func (p *prover) pictures(row recordRow, cameAlone bool) {
	var doc struct {
		Photos []struct{ SHA256 string }
		Firm   struct {
			Logo string `json:"logo_sha256"`
		}
	}
	if json.Unmarshal([]byte(row.Doc), &doc) != nil {
		return // told of already
	}
	names := []string{doc.Firm.Logo}
	for _, photo := range doc.Photos {
		names = append(names, photo.SHA256)
	}
	for _, sum := range names {
		if sum == "" {
			continue
		}
		_, err := readPicture(p.photos, sum)
		if err != nil && !(cameAlone && records.KindOf(err) == records.NotFound) {
			p.tell("record %s: %w", row.Number, err)
		}
	}
}
