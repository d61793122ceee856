package store

import (
	"context"
	"encoding/json"
	"fmt"

	"gorm.io/gorm"

	"gaugebook/records"
)

// skippedRow is numbers of a year that no record of the register has and that
// are not given out again.
type skippedRow struct {
	Year  int `gorm:"primaryKey;autoIncrement:false"`
	First int `gorm:"primaryKey;autoIncrement:false"`
	Last  int
}

func (skippedRow) TableName() string { return "skipped_numbers" }

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

func (t *tx) passOver(year, last int, why string) error {
	var rows []numberRow
	if err := t.Where("year = ?", year).Limit(1).Find(&rows).Error; err != nil {
		return err
	}
	rows = append(rows, numberRow{Year: year})
	first := rows[0].Last + 1
	if first > last {
		return nil
	}
	if err := t.Exec(`INSERT INTO numbers (year, last) VALUES (?, ?)
		ON CONFLICT (year) DO UPDATE SET last = excluded.last`, year, last).Error; err != nil {
		return err
	}
	if err := t.Create(&skippedRow{year, first, last}).Error; err != nil {
		return err
	}
	return t.log("numbers passed over", records.NumberOf(year, last), detail{"year": year, "first": first, "last": last,
		"why": why})
}

// skippedIn counts the numbers of each year that were passed over, and the
// highest.
func skippedIn(db *gorm.DB) (count, highest map[int]int, err error) {
	var rows []skippedRow
	err = db.Order("year, first").Find(&rows).Error
	count, highest = map[int]int{}, map[int]int{}
	for _, r := range rows {
		count[r.Year] += r.Last - r.First + 1
		highest[r.Year] = max(highest[r.Year], r.Last)
	}
	return count, highest, err
}

// skipped holds the numbers that were passed over against the log. Those that
// came with a whole register are in the log of the file that it came from.
func (p *prover) skipped() error {
	var rows []skippedRow
	if err := p.db.Order("year, first").Find(&rows).Error; err != nil {
		return err
	}
	var entries []auditRow
	if err := p.db.Where("what = 'numbers passed over'").Order("seq").Find(&entries).Error; err != nil {
		return err
	}
	told := map[skippedRow]bool{}
	for _, e := range entries {
		var d skippedRow
		if json.Unmarshal([]byte(e.Detail), &d) == nil {
			told[d] = true
		}
	}
	for _, r := range rows {
		if !told[r] && p.digest == "" {
			p.tell("the log does not say that the numbers %s to %s were passed over", records.NumberOf(r.Year, r.First),
				records.NumberOf(r.Year, r.Last))
		}
		delete(told, r)
	}
	for r := range told {
		p.tell("the numbers %s to %s were passed over, as the log says, and are open again",
			records.NumberOf(r.Year, r.First), records.NumberOf(r.Year, r.Last))
	}
	return nil
}

// checkRow is what the readiness check writes.
type checkRow struct {
	One int `gorm:"primaryKey;autoIncrement:false"`
	At  string
}

func (checkRow) TableName() string { return "last_check" }

// Writable writes to the file and returns an error if the disk does not take
// it: a full disk, a folder that has become read-only, a writer that does not
// come to its end.
func (s *Store) Writable(ctx context.Context) error {
	return s.write(ctx, records.SystemActor, func(t *tx) error {
		err := t.Exec("INSERT INTO last_check (one, at) VALUES (1, ?) ON CONFLICT (one) DO UPDATE SET at = excluded.at",
			stamp(t.at)).Error
		if err != nil {
			return fmt.Errorf("writing to the register: %w", err)
		}
		return nil
	})
}
