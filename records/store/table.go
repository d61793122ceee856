package store

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"sync"

	"gorm.io/gorm/schema"
)

// The columns of a table are spelled in one place: the fields of the struct
// that its rows are read into. What is selected, inserted and exported is made
// from them. How a column is exported is in its tag line; see lineTable.

// table is one table with its columns, in the order of the fields.
type table struct {
	name    string
	columns []column
	insert  string // a whole row, with the values that args gives
}

// column is one column of a table.
type column struct {
	name  string
	field int    // of the row's struct
	line  string // how it is exported
}

// tables are all that rows are read from.
var tables []*table

// tableOf reads the columns of a table from the struct of its rows.
func tableOf[R schema.Tabler]() *table {
	var row R
	s, err := schema.Parse(row, &sync.Map{}, schema.NamingStrategy{})
	if err != nil {
		panic(fmt.Sprintf("the columns of %T: %v", row, err)) // found out by any test
	}
	t := &table{name: row.TableName()}
	for _, f := range s.Fields {
		t.columns = append(t.columns, column{f.DBName, f.StructField.Index[0], f.Tag.Get("line")})
	}
	t.insert = "INSERT INTO " + t.name + " (" + t.list("") + ") VALUES (?" +
		strings.Repeat(", ?", len(t.columns)-1) + ")"
	tables = append(tables, t)
	return t
}

// list is the columns for a query, of the table by its alias, but for some.
func (t *table) list(alias string, but ...string) string {
	return t.each(alias, but, func(of, name string) string { return of + name })
}

// as is list with a prefix to the names, for a row embedded in another.
func (t *table) as(alias, prefix string, but ...string) string {
	return t.each(alias, but, func(of, name string) string { return of + name + " AS " + prefix + name })
}

func (t *table) each(alias string, but []string, text func(of, name string) string) string {
	if alias != "" {
		alias += "."
	}
	var out []string
	for _, c := range t.columns {
		if !slices.Contains(but, c.name) {
			out = append(out, text(alias, c.name))
		}
	}
	return strings.Join(out, ", ")
}

// args are the values of a row, in the order of the columns.
func (t *table) args(row any) []any {
	v := reflect.ValueOf(row)
	out := make([]any, len(t.columns))
	for i, c := range t.columns {
		out[i] = v.Field(c.field).Interface()
	}
	return out
}

// into are where a row of list is scanned to.
func (t *table) into(row any) []any {
	v := reflect.ValueOf(row).Elem()
	out := make([]any, len(t.columns))
	for i, c := range t.columns {
		out[i] = v.Field(c.field).Addr().Interface()
	}
	return out
}

var (
	peopleTable         = tableOf[personRow]()
	firmTable           = tableOf[firmRow]()
	chaseSettingsTable  = tableOf[chaseSettingsRow]()
	instrumentTable     = tableOf[instrumentRow]()
	dropBandsTable      = tableOf[dropBandsRow]()
	ownerLimitTable     = tableOf[ownerLimitRow]()
	numberTable         = tableOf[numberRow]()
	propertyTable       = tableOf[propertyRow]()
	applianceTable      = tableOf[applianceRow]()
	recordTable         = tableOf[recordRow]()
	documentTable       = tableOf[documentRow]()
	printTable          = tableOf[printRow]()
	keptTable           = tableOf[keptRow]()
	dutyTable           = tableOf[dutyRow]()
	attemptTable        = tableOf[attemptRow]()
	visitTable          = tableOf[visitRow]()
	contactRequestTable = tableOf[contactRequestRow]()
	bookingTable        = tableOf[bookingRow]()
	bookingDutyTable    = tableOf[bookingDutyRow]()
	reminderTable       = tableOf[reminderRow]()
	letterBatchTable    = tableOf[letterBatchRow]()
	suppressionTable    = tableOf[suppressionRow]()
	linkTable           = tableOf[linkRow]()
	feedTable           = tableOf[feedRow]()
	auditTable          = tableOf[auditRow]()
	firmKeyTable        = tableOf[firmKeyRow]()
	skippedTable        = tableOf[skippedRow]()
)

// These are read and written through gorm alone, which has their columns from
// the same structs.
var _ = []*table{
	tableOf[stopLinkRow](), tableOf[inviteRow](), tableOf[keyRow](), tableOf[outboxRow](), tableOf[webhookRow](),
	tableOf[codesRow](), tableOf[recoveryRow](), tableOf[passkeyRow](), tableOf[signInRulesRow](), tableOf[signInRow](),
	tableOf[deliveryRow](), tableOf[sessionRow](), tableOf[onceRow](), tableOf[headRow](), tableOf[checkRow](),
}
