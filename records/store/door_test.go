package store

import (
	"context"
	"errors"
	"io"
	"time"

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

// PassOver has the numbers of a year up to last not given out: records that had
// them were issued and are lost. Numbers that were given out stay as they are.
// Errors: Invalid for a number that is none.
func (s Records) PassOver(ctx context.Context, actor records.Actor, number, why string) error {
	why, err := records.CheckReason(why)
	if err != nil {
		return err
	}
	year, last, err := records.ParseNumber(number)
	if err != nil {
		return err
	}
	return s.write(ctx, actor, func(t *tx) error { return t.passOver(year, last, why) })
}

// Proved returns every flaw that Prove finds.
func (s Audit) Proved(ctx context.Context) error {
	p, err := s.Prove(ctx, ProofOptions{})
	return errors.Join(append(p.Flaws, err)...)
}

// Entries returns entries of the log, the newest first: those of one subject, or
// all for "". Before is the entry to go on from, 0 for the newest.
func (s Audit) Entries(ctx context.Context, subject string, before int64, limit int) ([]AuditEntry, error) {
	return s.Find(ctx, AuditQuery{Subject: subject, Before: before, Limit: limit})
}

// Add makes a link for somebody without an e-mail address.
func (s Links) Add(ctx context.Context, actor records.Actor, recordID, forName string,
	expires time.Time) (Link, error) {
	return s.AddTo(ctx, actor, recordID, records.Contact{Name: forName}, expires)
}
