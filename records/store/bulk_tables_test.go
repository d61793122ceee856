package store

import (
	"context"
	"path/filepath"
	"strings"
	"testing"
)

// Every table travels as lines or is left behind for a reason; every column
// of those that travel is in the line or follows from others.
func TestEveryTableTravelsOrNot(t *testing.T) {
	s, err := Open(context.Background(), Options{Path: filepath.Join(t.TempDir(), "a.db")})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var tables []string
	if err := s.reader.Raw("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND " +
		"name NOT LIKE 'goose_%' AND name NOT LIKE 'appliance_words%'").Scan(&tables).Error; err != nil {
		t.Fatal(err)
	}
	made := map[string]string{
		"firm": "one", "chase_settings": "one", "people": "password_hash sign_ins", "duties": "appliance_kind nation",
		"appliances": "kind make_model serial nation address_key search due due_n last_record_n no_service no_landlord",
		"records": "purpose standing work_date engineer schema doc rejected findings replaces number code sha256 " +
			"issued_at",
	}
	seen := 0
	for _, table := range tables {
		if leftBehind[table] != "" {
			continue
		}
		var columns []string
		if err := s.reader.Raw("SELECT name FROM pragma_table_info(?)", table).Scan(&columns).Error; err != nil {
			t.Fatal(err)
		}
		have := map[string]bool{"n": true}
		for _, lt := range lineTables {
			for _, c := range lt.columns {
				have[c.name] = have[c.name] || lt.table == table
			}
			if lt.table == table {
				seen++
			}
		}
		for _, name := range strings.Fields(made[table]) {
			have[name] = true
		}
		for _, c := range columns {
			if !have[c] {
				t.Errorf("%s.%s does not travel: name it in lineTables or leftBehind", table, c)
			}
		}
	}
	if seen != len(lineTables) || len(tables) < 15 {
		t.Errorf("%d of %d line tables are among %d tables", seen, len(lineTables), len(tables))
	}
}
