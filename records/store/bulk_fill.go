package store

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"gaugebook/records"
)

// Filled is one generated appliance with its records, oldest first. The
// duties of a record's Issued are those that follow from it; the next record
// fulfils them.
type Filled struct {
	Property records.PropertyEntry // its ID is given by Fill
	Values   records.Values
	Records  []FilledRecord
}

// FilledRecord is an issued record as Issue would have written it, but for
// the print, which is made when it is first asked for.
type FilledRecord struct {
	Issued     records.Issued
	Canonical  []byte
	Seal       records.Seal
	EngineerID string
}

// FillReport says what Fill wrote and how fast, beside a bare loop: the rows
// of the first appliances once more, into tables of the same columns without
// keys, indexes, triggers or checks, in one transaction.
type FillReport struct {
	Appliances, Records, Rows int
	Took                      time.Duration
	BareRows                  int
	BareTook                  time.Duration
}

// PerSecond returns the rows a second of Fill and of the bare loop.
func (r FillReport) PerSecond() (filled, bare float64) {
	return float64(r.Rows) / r.Took.Seconds(), float64(r.BareRows) / r.BareTook.Seconds()
}

const (
	fillChunk = 200    // appliances made at a time
	fillBatch = 20_000 // appliances in one transaction
	fillBare  = 2_000  // appliances of the bare loop
)

// Fill writes n generated appliances into a register without records, in
// large transactions: a register that is thrown away if it fails. generate
// makes the ith and takes the numbers of its records from number, which
// counts each year from one. It runs beside the writing, one call at a time.
// Errors: Conflict when there are records; those of generate.
func (s Bulk) Fill(ctx context.Context, actor records.Actor, n int,
	generate func(i int, number func(year int) string) (Filled, error), progress func(done int)) (FillReport, error) {
	var has int64
	if err := s.read(ctx).Model(&applianceRow{}).Limit(1).Count(&has).Error; err != nil || has > 0 {
		return FillReport{}, errors.Join(explain(err), records.Fail(records.Conflict,
			"the register holds appliances already; generated ones go into an empty register"))
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	begun := time.Now()
	f := &filler{actor: actor, newID: s.opt.NewID, at: stamp(s.opt.Now()), last: map[int]int{},
		chunks: make(chan []insert, 4)}
	go f.generate(ctx, n, generate)
	var report FillReport
	var bare []insert
	for report.Appliances < n {
		err := s.write(ctx, actor, func(t *tx) error {
			b := bulkOf(ctx, t.DB)
			defer b.close()
			index, err := b.pauseIndex(true)
			if err != nil {
				return err
			}
			for done := 0; done < fillBatch && report.Appliances < n; {
				rows, ok := <-f.chunks
				if !ok {
					return f.err
				}
				for _, in := range rows {
					if err := b.insert(in.into, in.row); err != nil {
						return err
					}
				}
				made := min(fillChunk, n-report.Appliances)
				done, report.Appliances, report.Rows = done+made, report.Appliances+made, report.Rows+len(rows)
				if report.Appliances <= fillBare {
					bare = append(bare, rows...)
				}
				if progress != nil {
					progress(report.Appliances)
				}
			}
			if err := index.resume(); err != nil || report.Appliances < n {
				return err
			}
			for year, last := range f.last { // generation has ended: nobody writes it
				if err := b.insert(numberTable, numberRow{year, last}); err != nil {
					return err
				}
			}
			return t.log("register filled with generated appliances", "register",
				detail{"appliances": n, "records": f.records})
		})
		if err != nil {
			return report, err
		}
	}
	report.Records, report.Took = f.records, time.Since(begun)
	var err error
	report.BareRows = len(bare)
	report.BareTook, err = bareLoop(ctx, filepath.Dir(s.opt.Path), bare)
	return report, err
}

// insert is one row to be written.
type insert struct {
	into *table
	row  any
}

// filler makes rows.
type filler struct {
	actor          records.Actor
	newID          func() string
	at             string
	last           map[int]int // number given out last, by year
	applianceN     int64
	recordN, dutyN int64
	records        int
	rows           []insert
	chunks         chan []insert
	err            error // why generation ended early; read once chunks is closed
}

func (f *filler) number(year int) string {
	f.last[year]++
	return records.NumberOf(year, f.last[year])
}

func (f *filler) generate(ctx context.Context, n int, generate func(int, func(int) string) (Filled, error)) {
	defer close(f.chunks)
	for i := range n {
		a, err := generate(i, f.number)
		if err == nil {
			err = f.add(a)
		}
		if err != nil {
			f.err = fmt.Errorf("appliance %d: %w", i+1, err)
			return
		}
		if (i+1)%fillChunk != 0 && i+1 < n {
			continue
		}
		select {
		case f.chunks <- f.rows:
			f.rows = make([]insert, 0, len(f.rows))
		case <-ctx.Done():
			f.err = ctx.Err()
			return
		}
	}
}

func (f *filler) put(into *table, row any) { f.rows = append(f.rows, insert{into, row}) }

// add makes the rows of one appliance and its property, each with its number
// known ahead, so that none is written twice.
func (f *filler) add(a Filled) error {
	f.applianceN++
	a.Property.ID = f.newID()
	p := propertyRowOf(a.Property)
	p.N, p.CreatedAt = f.applianceN, f.at
	row := applianceRow{N: f.applianceN, ID: f.newID(), PropertyN: p.N, Due: noDue, NoService: true, NoLandlord: true,
		CreatedAt: f.at}
	if err := row.setValues(a.Values); err != nil {
		return err
	}
	f.put(propertyTable, p)
	at := len(f.rows)
	f.put(applianceTable, nil) // its due date is known at the end
	var numbers []string
	var open []dutyRow
	for _, r := range a.Records {
		rec, err := f.record(row.N, r)
		if err != nil {
			return err
		}
		numbers, row.LastRecordN = append(numbers, rec.Number), &rec.N
		f.close(open, rec)
		if open, err = f.duties(row, p, rec, r.Issued.Duties); err != nil {
			return err
		}
	}
	for i, d := range open {
		if d.Due < row.Due {
			row.Due, row.DueN = d.Due, &open[i].N
		}
		row.NoService = row.NoService && d.Kind != string(records.AnnualService)
		row.NoLandlord = row.NoLandlord && d.Kind != string(records.LandlordCheckDue)
		f.put(dutyTable, d)
	}
	row.setProperty(a.Property, numbers)
	f.rows[at].row = row
	return nil
}

func (f *filler) record(applianceN int64, r FilledRecord) (recordRow, error) {
	f.recordN++
	f.records++
	doc, err := records.EncodeRecord(r.Issued.Record)
	if err != nil {
		return recordRow{}, err
	}
	findings, err := toJSON(r.Issued.Findings)
	if err != nil {
		return recordRow{}, err
	}
	seal, err := records.MarshalSeal(r.Seal)
	if err != nil {
		return recordRow{}, err
	}
	rec, at := r.Issued.Record, stamp(r.Issued.IssuedAt)
	row := recordRow{N: f.recordN, ID: f.newID(), ApplianceN: applianceN, Purpose: string(rec.Purpose),
		Stage: string(records.StageIssued), Standing: string(r.Issued.Standing), WorkDate: rec.WorkDate.String(),
		EngineerID: r.EngineerID, Engineer: rec.Engineer.Name, Revision: 1, Schema: records.SchemaVersion,
		Doc: string(doc), Rejected: "null", Findings: findings, Number: r.Issued.Number, Code: r.Seal.Code,
		SHA256: r.Seal.SHA256, IssuedAt: at, CreatedAt: at, UpdatedAt: at}
	f.put(recordTable, row)
	f.put(documentTable, documentRow{row.N, r.Canonical, string(seal)})
	return row, nil
}

// close writes the duties that a later record fulfils.
func (f *filler) close(open []dutyRow, by recordRow) {
	for _, d := range open {
		d.State, d.ClosedRecordN, d.ClosedAt, d.ClosedBy = string(records.Done), &by.N, by.IssuedAt, by.Engineer
		d.ClosedWhy = by.Purpose + " on " + date(by.WorkDate).Long()
		f.put(dutyTable, d)
	}
}

func (f *filler) duties(a applianceRow, p propertyRow, by recordRow, duties []records.Duty) ([]dutyRow, error) {
	out := make([]dutyRow, len(duties))
	for i, d := range duties {
		source, err := toJSON(d.Source)
		if err != nil {
			return nil, err
		}
		f.dutyN++
		n := by.N
		out[i] = dutyRow{N: f.dutyN, ID: f.newID(), ApplianceN: a.N, Kind: string(d.Kind), Due: d.Due.String(),
			Why: d.Why, Source: source, State: "open", RecordN: &n, WorkDate: by.WorkDate, CreatedAt: by.IssuedAt,
			ApplianceKind: a.Kind, Nation: p.Nation}
	}
	return out, nil
}
