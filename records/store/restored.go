package store

import (
	"context"
	"crypto/ed25519"

	"gaugebook/records"
)

// RestoredFrom says what a register was restored from, and what is known of what
// happened after that was written.
type RestoredFrom struct {
	File   string
	SHA256 string // of the file as it was restored
	// Highest is the highest number on any paper that left the firm; "" when none
	// was issued after the backup.
	Highest string
	Key     ed25519.PrivateKey // signs the log
}

// Restored is what became of a restored register.
type Restored struct {
	Unsure    int  // messages that may have been sent after the backup
	Automatic bool // reminders were sent automatically, which is off now
	LogEntry  int64
}

// AfterRestore makes a register that was restored from a backup fit for use. The
// world went on after the backup was written: messages that were due may have
// gone out since and are unsure, sessions have ended, reminders wait for a person,
// and numbers that papers carry are not given out again. Errors: Invalid for a
// number that is none.
func (s *Store) AfterRestore(ctx context.Context, actor records.Actor, from RestoredFrom) (out Restored, err error) {
	year, highest := 0, 0
	if from.Highest != "" {
		if year, highest, err = records.ParseNumber(from.Highest); err != nil {
			return out, err
		}
	}
	reminders, err := s.Settings.Reminders(ctx)
	if err != nil {
		return out, err
	}
	if out.Automatic = reminders.Automatic; out.Automatic {
		reminders.Automatic = false
		if err := s.Settings.SaveReminders(ctx, actor, reminders); err != nil {
			return out, err
		}
	}
	err = s.write(ctx, actor, func(t *tx) error {
		res := t.Model(&outboxRow{}).Where("state IN ('due', 'sending')").Updates(map[string]any{
			"state": string(records.MessageUnsure), "lease_until": "", "updated_at": stamp(t.at),
			"problem": "the register was restored from a backup: it may have been sent after that was written"})
		if res.Error != nil {
			return res.Error
		}
		out.Unsure = int(res.RowsAffected)
		for _, q := range []string{"DELETE FROM sessions", "UPDATE people SET sign_ins = sign_ins + 1",
			"UPDATE sign_ins SET ended_at = used_at, ended_why = 'register restored' WHERE refused = '' " +
				"AND ended_at = ''",
			"DELETE FROM once_keys WHERE state = 'running'"} {
			if err := t.Exec(q).Error; err != nil {
				return err
			}
		}
		if highest > 0 {
			if err := t.passOver(year, highest, "issued after the backup "+from.File); err != nil {
				return err
			}
		}
		last, err := newestEntry(t.DB)
		if err != nil {
			return err
		}
		out.LogEntry = last.Seq
		if err := t.log("register restored", from.File, detail{"sha256": from.SHA256, "highest": from.Highest,
			"unsure": out.Unsure}); err != nil {
			return err
		}
		_, err = t.signHead(from.Key)
		return err
	})
	return out, err
}
