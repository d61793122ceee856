package store_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// schemaTables are the tables of the schema with their columns, in order.
func schemaTables(t *testing.T, s *store.Store) map[string][]string {
	t.Helper()
	var names []string
	store.MustScan(t, s, &names, "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' "+
		"AND name NOT LIKE 'goose_%' AND name NOT LIKE 'appliance_words%'")
	out := map[string][]string{}
	for _, name := range names {
		var columns []string
		store.MustScan(t, s, &columns, "SELECT name FROM pragma_table_info(?) ORDER BY cid", name)
		out[name] = columns
	}
	return out
}

// Every table travels as lines or is left behind for a reason.
func TestEveryTableTravelsOrNot(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
	travel := store.Exported()
	for name := range schemaTables(t, s) {
		if stays := store.LeftBehind[name] != ""; stays == slices.Contains(travel, name) {
			t.Errorf("%s: name it in lineTables or in leftBehind, and not in both", name)
		}
	}
	for name, why := range store.LeftBehind {
		if why == "" || schemaTables(t, s)[name] == nil {
			t.Errorf("%s is left behind because %q, and is it in the schema?", name, why)
		}
	}
}

// The structs of the rows and the SQL of the schema do not drift apart. What
// only triggers write has no struct.
func TestRowsMatchSchema(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
	rows, schema := store.RowColumns(), schemaTables(t, s)
	for _, counted := range []string{"due_days", "issue_counts", "uncalibrated"} {
		if schema[counted] == nil || rows[counted] != nil {
			t.Errorf("%s is no table that triggers write", counted)
		}
		delete(schema, counted)
	}
	for name, want := range schema {
		got := slices.Clone(rows[name])
		slices.Sort(got)
		slices.Sort(want)
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s has the columns %s, its rows %s", name, strings.Join(want, " "), strings.Join(got, " "))
		}
	}
	if len(rows) != len(schema) {
		t.Errorf("%d structs of rows for %d tables", len(rows), len(schema))
	}
}
