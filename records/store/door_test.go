package store

import (
	"context"
	"database/sql"
	"errors"
	"io"
	"time"

	"gorm.io/gorm"

	"gaugebook/records"
)

// Backup writes a copy of the database, as it stands at one moment, to a new
// file while the store is in use. The copy is checked, and only then given
// its name. Errors: Conflict when there is a file of that name.
func (s *Store) Backup(ctx context.Context, path string) (err error) {
	return BackupFile(ctx, s.opt.Path, path)
}

// Export writes the whole register as JSON lines, as it stood at one moment,
// and returns how many. A row is in memory at a time. Passwords, keys, links
// to customers, the audit log and the outbox are not in it.
func (s Bulk) Export(ctx context.Context, w io.Writer) (n int, err error) {
	return s.ExportSigned(ctx, w, time.Time{}, nil)
}

// Backup copies the pictures to a new folder beside a finished backup
// of the database, reads each back, and looks for every picture that a record
// in that backup names. A picture is kept before a record names it, so copying
// after the database leaves none out. Errors: Conflict when the folder is
// there already.
func (s Photos) Backup(ctx context.Context, database, dir string) (out PhotoBackup, err error) {
	return BackupPhotos(ctx, s.Dir(), database, dir)
}

// Verify reads the whole log and returns an *AuditBroken for the first entry
// that was changed, removed or inserted.
func (s Audit) Verify(ctx context.Context) error {
	return s.view(ctx, func(db *gorm.DB) error {
		p := &prover{Proof: &Proof{}, bulk: bulkOf(ctx, db), db: db, known: map[int64]string{},
			latest: map[string]auditRow{}}
		defer p.close()
		if err := p.chain(); err != nil {
			return err
		}
		for _, flaw := range p.Flaws {
			var broken *AuditBroken
			if errors.As(flaw, &broken) {
				return broken
			}
		}
		return nil
	})
}

// PassOver has the numbers of a year up to last not given out: records that had
// them were issued and are lost. Numbers that were given out stay as they are.
// Errors: Invalid for a number that is none.
func (s Records) PassOver(ctx context.Context, actor records.Actor, number, why string) error {
	why, err := reason(why)
	if err != nil {
		return err
	}
	year, last, err := records.ParseNumber(number)
	if err != nil {
		return err
	}
	return s.write(ctx, actor, func(t *tx) error { return t.passOver(year, last, why) })
}

// VerifyIssued reads every issued record and returns an error for the first
// whose number leaves a gap, whose canonical JSON is not the one that was
// sealed and listed, or whose print is gone. One that has not been printed yet
// lacks nothing.
func (s Records) VerifyIssued(ctx context.Context) error {
	return s.view(ctx, func(db *gorm.DB) error {
		if err := verifyNumbers(db); err != nil {
			return err
		}
		rows, err := db.Raw(`SELECT r.number, r.sha256, d.canonical, d.seal
			FROM records r LEFT JOIN issued_documents d ON d.record_n = r.n
			WHERE r.number <> '' ORDER BY r.number`).Rows()
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var number, sum string
			var canonical []byte
			var sealText sql.NullString
			if err := rows.Scan(&number, &sum, &canonical, &sealText); err != nil {
				return err
			}
			seal, err := records.UnmarshalSeal([]byte(sealText.String))
			if err != nil || seal.SHA256 != sum || !seal.Holds(canonical, seal.PublicKey) {
				return notAsIssued(number)
			}
		}
		if err := rows.Err(); err != nil {
			return err
		}
		return verifyPrints(db)
	})
}
