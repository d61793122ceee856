package store

import (
	"database/sql"

	"gaugebook/records"
)

// finish makes the columns that follow from others, as refresh does for one
// appliance.
func (r *restorer) finish() error {
	open := `FROM duties d` + by("duties_appliance") + `
		WHERE d.appliance_n = appliances.n AND d.state = 'open'`
	for _, stmt := range []string{
		`UPDATE duties SET (appliance_kind, nation) =
			(SELECT kind, nation FROM appliances a WHERE a.n = duties.appliance_n)`,
		`UPDATE appliances SET
			due = coalesce((SELECT d.due ` + open + ` ORDER BY d.due, d.n LIMIT 1), '` + noDue + `'),
			due_n = (SELECT d.n ` + open + ` ORDER BY d.due, d.n LIMIT 1),
			no_service = CASE WHEN EXISTS (SELECT 1 ` + open + `
				AND d.kind = '` + string(records.AnnualService) + `') THEN 0 ELSE 1 END,
			no_landlord = CASE WHEN EXISTS (SELECT 1 ` + open + `
				AND d.kind = '` + string(records.LandlordCheckDue) + `') THEN 0 ELSE 1 END,
			last_record_n = (SELECT r.n FROM records r
				WHERE r.appliance_n = appliances.n AND r.stage = 'issued'
				ORDER BY r.work_date DESC, r.n DESC LIMIT 1)`,
	} {
		if err := r.exec(stmt); err != nil {
			return err
		}
	}
	if err := r.numbers(); err != nil {
		return err
	}
	return verifyNumbers(r.tx.DB)
}

// found is an appliance with what it is found by.
type found struct {
	row     applianceRow
	place   propertyRow
	numbers []string
}

// numbers puts the record numbers among the words that each appliance is
// found by, some appliances at a time.
func (r *restorer) numbers() error {
	for after := int64(0); ; {
		list, err := r.numbered(after)
		if err != nil || len(list) == 0 {
			return err
		}
		for _, f := range list {
			after = f.row.N
			f.row.setProperty(f.place.entry(), f.numbers)
			if err := r.exec("UPDATE appliances SET search = ? WHERE n = ?", f.row.Search, f.row.N); err != nil {
				return err
			}
		}
	}
}

var (
	numberedAppliances = "SELECT " + applianceTable.list("a") + ", " + propertyTable.list("p") + `
		FROM appliances a JOIN properties p ON p.n = a.property_n
		WHERE a.n > ? AND EXISTS (SELECT 1 FROM records r WHERE r.appliance_n = a.n AND r.number <> '')
		ORDER BY a.n LIMIT 500`
	numbersBetween = `SELECT appliance_n, number FROM records
		WHERE appliance_n BETWEEN ? AND ? AND number <> '' ORDER BY appliance_n, n`
)

// numbered reads the next appliances that have issued records.
func (r *restorer) numbered(after int64) (list []found, err error) {
	at := map[int64]int{}
	err = r.each(numberedAppliances, []any{after}, func(rows *sql.Rows) error {
		var f found
		err := rows.Scan(append(applianceTable.into(&f.row), propertyTable.into(&f.place)...)...)
		at[f.row.N] = len(list)
		list = append(list, f)
		return err
	})
	if err != nil || len(list) == 0 {
		return nil, err
	}
	return list, r.each(numbersBetween, []any{list[0].row.N, list[len(list)-1].row.N}, func(rows *sql.Rows) error {
		var n int64
		var number string
		err := rows.Scan(&n, &number)
		if err == nil {
			list[at[n]].numbers = append(list[at[n]].numbers, number)
		}
		return err
	})
}
