package store

import (
	"context"
	"crypto/ed25519"
	"encoding/json"
	"fmt"

	"gorm.io/gorm"

	"gaugebook/records"
)

// AuditBroken says where the audit log does not hold.
type AuditBroken struct {
	Seq    int64
	Reason string
}

// Error names the entry.
func (e *AuditBroken) Error() string { return fmt.Sprintf("audit log, entry %d: %s", e.Seq, e.Reason) }

// ProofOptions say what else the register is held against, beside itself.
type ProofOptions struct {
	// Keys are the firm's, the newest and the earlier ones. Without them a seal
	// is only held against the key that it names itself.
	Keys []ed25519.PublicKey
	// Known are entries of the log that are known from outside the register:
	// from papers, exports and backups.
	Known []records.LogHead
	// Print, if set, holds the print of a record against what was sealed.
	Print func(number string, print []byte) error
	// Photos has every picture that a record names read.
	Photos bool
}

// Proof is what became of a proof: what was looked at, and what is wrong.
type Proof struct {
	Entries  int64 // of the audit log
	Unsigned int64 // of them, since the last signature
	Signed   int   // signatures
	Records  int   // issued
	Prints   int
	Head     *records.LogHead // the newest entry
	Flaws    []error          // the first of them
	More     int              // flaws beside those
}

// mostFlaws is how many flaws are named. Whatever one change breaks is told of,
// but a register of which much is gone does not fill the screen.
const mostFlaws = 40

func (p *Proof) flaw(err error) {
	if len(p.Flaws) == mostFlaws {
		p.More++
		return
	}
	p.Flaws = append(p.Flaws, err)
}

// Prove reads the whole register and returns all that shows that it is not as
// the program wrote it: entries of the log that were changed, removed, inserted
// or cut off, signatures that do not hold, records that are not as they were
// sealed or that the log does not know, numbers that are missing, settings that
// differ from what the log says was entered, triggers and indexes that are gone.
// It changes nothing. An error is only what kept it from reading.
func (s Audit) Prove(ctx context.Context, opt ProofOptions) (out Proof, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		p := &prover{Proof: &out, bulk: bulkOf(ctx, db), db: db, opt: opt, photos: photoDir(s.opt.Path),
			known: map[int64]string{}, latest: map[string]auditRow{}}
		defer p.close()
		for _, look := range []func() error{p.schema, p.chain, p.heads, p.keys, p.settings, p.numbers, p.records,
			p.replaced, p.prints} {
			if err := look(); err != nil {
				return err
			}
		}
		return nil
	})
	return out, err
}

// prover looks through a register on one snapshot.
type prover struct {
	*Proof
	*bulk
	db     *gorm.DB
	opt    ProofOptions
	photos string
	known  map[int64]string    // hashes of entries that something names, by entry
	latest map[string]auditRow // what the log says last of a setting or person
	// taken are records that came with a whole register and have no entry of
	// their own, as the log says; listed is whether it says more than how many.
	taken  int
	digest string
	broken bool // the log itself
}

func (p *prover) tell(format string, args ...any) { p.flaw(fmt.Errorf(format, args...)) }

// inLog reports a flaw of an entry of the log.
func (p *prover) inLog(seq int64, reason string) {
	p.broken = true
	p.flaw(&AuditBroken{seq, reason})
}

// chain walks through the log once.
func (p *prover) chain() error {
	for _, k := range p.opt.Known {
		p.known[k.Entry] = ""
	}
	rows, err := p.db.Raw("SELECT " + auditTable.list("") + " FROM audit ORDER BY seq").Rows()
	if err != nil {
		return err
	}
	defer rows.Close()
	var last auditRow
	for rows.Next() {
		var r auditRow
		if err := rows.Scan(auditTable.into(&r)...); err != nil {
			return err
		}
		switch {
		case r.Seq != last.Seq+1:
			p.inLog(last.Seq+1, "is missing")
		case r.Prev != last.Hash:
			p.inLog(r.Seq, "does not follow from the one before")
		case r.Hash != r.seal():
			p.inLog(r.Seq, "was changed after it was written")
		}
		p.remember(r)
		p.Entries++
		last = r
	}
	if err := rows.Err(); err != nil {
		return err
	}
	p.Head = last.head()
	highest, err := highestEntry(p.db)
	if err != nil {
		return err
	}
	if highest != last.Seq {
		p.inLog(last.Seq+1, "is missing from the end")
	}
	for _, k := range p.opt.Known {
		if p.known[k.Entry] != k.Hash {
			p.inLog(k.Entry, "is not the entry of that number which is known from outside this register: the log was "+
				"written again, cut off, or is that of another register")
		}
	}
	return nil
}

// remember keeps of an entry what the register is held against later.
func (p *prover) remember(r auditRow) {
	if _, named := p.known[r.Seq]; named {
		p.known[r.Seq] = r.Hash
	}
	switch r.What {
	case "register imported":
		var d struct {
			Lines  map[string]int
			Sealed int
			Digest string
		}
		if json.Unmarshal([]byte(r.Detail), &d) == nil {
			p.taken, p.digest = d.Lines["record"], d.Digest
			if d.Digest != "" {
				p.taken = d.Sealed
			}
		}
	case "register filled with generated appliances":
		var d struct{ Records int }
		if json.Unmarshal([]byte(r.Detail), &d) == nil {
			p.taken = d.Records
		}
	case "firm changed", "permissible drops entered", "person added", "person changed", "instrument saved":
		p.latest[settingOf[r.What]+" "+r.Subject] = r
	}
}

// heads holds the signatures of the log against the log.
func (p *prover) heads() error {
	var last int64
	rows, err := p.db.Raw(`SELECT h.seq, h.hash, h.at, h.public_key, h.signature, coalesce(l.hash, '')
		FROM audit_heads h LEFT JOIN audit l ON l.seq = h.seq ORDER BY h.seq`).Rows()
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var h headRow
		var hash string
		if err := rows.Scan(&h.Seq, &h.Hash, &h.At, &h.PublicKey, &h.Signature, &hash); err != nil {
			return err
		}
		signed := h.head()
		switch {
		case !signed.Holds(signed.PublicKey):
			p.inLog(h.Seq, "has a signature that does not hold")
		case !p.ours(signed.PublicKey):
			p.inLog(h.Seq, "is signed with another key than the firm's, "+records.KeyName(signed.PublicKey))
		case hash != h.Hash:
			p.inLog(h.Seq, "is not what was signed: the log was written again, or cut off before it")
		}
		p.Signed++
		last = h.Seq
	}
	if err := rows.Err(); err != nil {
		return err
	}
	p.Unsigned = p.Entries - min(last, p.Entries)
	return p.unsignedIssues()
}

// unsignedIssues looks for an issue after which the log was not signed. Programs
// before the first signature signed none.
func (p *prover) unsignedIssues() error {
	var seqs []int64
	err := p.db.Raw(`SELECT l.seq FROM audit l WHERE l.what = 'record issued'
		AND l.seq > (SELECT min(h.seq) FROM audit_heads h)
		AND NOT EXISTS (SELECT 1 FROM audit_heads h WHERE h.seq = l.seq)
		ORDER BY l.seq LIMIT 5`).Scan(&seqs).Error
	for _, seq := range seqs {
		p.inLog(seq, "tells of an issue and has lost its signature")
	}
	return err
}

// ours reports whether a key is one of the firm's.
func (p *prover) ours(key ed25519.PublicKey) bool {
	if p.opt.Keys == nil {
		return true
	}
	for _, k := range p.opt.Keys {
		if k.Equal(key) {
			return true
		}
	}
	return false
}

// keys looks at how the firm's key came from one to the next.
func (p *prover) keys() error {
	changes, err := keyChanges(p.db)
	if err != nil {
		return err
	}
	for _, c := range changes {
		switch {
		case !c.Holds():
			p.tell("the change of the firm's key from %s is not signed by both keys", records.KeyName(c.Old))
		case !p.ours(c.Old):
			p.tell("the key %s is none that the firm's key follows from", records.KeyName(c.Old))
		}
	}
	return nil
}
