//go:build torture

package main

import (
	"database/sql"
	"fmt"
	"net/http"
	"path/filepath"
	"strings"
	"time"
)

// compare holds the register against what was acknowledged.
func (x *torture) compare(post *mailServer, took time.Duration) {
	t := x.t
	x.stop()
	x.crashless()
	said := x.audit()
	db, err := sql.Open("sqlite3", "file:"+filepath.Join(x.dir, "register.db")+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	one := func(query string, args ...any) (out string) {
		if err := db.QueryRow(query, args...).Scan(&out); err != nil {
			t.Errorf("%s %v: %v", query, args, err)
		}
		return out
	}
	for line, id := range x.homes {
		if got := one("SELECT coalesce(max(id), '') FROM properties WHERE line1 = ?", line); got != id {
			t.Errorf("%s is %q, and was acknowledged as %s", line, got, id)
		}
	}
	for line := range x.asked {
		if n := one("SELECT count(*) FROM properties WHERE line1 = ?", line); n != "0" && n != "1" {
			t.Errorf("%s is there %s times", line, n)
		}
	}
	for number, is := range x.issues {
		if got := one("SELECT id || ' ' || code FROM records WHERE number = ?", number); got != is.id+" "+
			strings.ReplaceAll(is.code, "-", "") && got != is.id+" "+is.code {
			t.Errorf("%s is %q, and was acknowledged as %s %s", number, got, is.id, is.code)
		}
		if n := one("SELECT count(*) FROM outbox WHERE record_id = ?", is.id); n != "1" {
			t.Errorf("%s has %s messages", number, n)
		}
	}
	whole := 0
	for street, acknowledged := range x.lists {
		n := one("SELECT count(*) FROM properties WHERE line1 LIKE '% ' || ?", street)
		if n == fmt.Sprint(rowsOfList) {
			whole++
		} else if n != "0" || acknowledged {
			t.Errorf("%s of %d rows of %s are there, acknowledged: %v", n, rowsOfList, street, acknowledged)
		}
	}
	seen := map[string]int{}
	for _, l := range post.got(t) {
		seen[l.id]++
	}
	for id, n := range seen {
		if n > 1 {
			t.Errorf("%s went out %d times", id, n)
		}
	}
	t.Logf("%d kills in %s: %d homes, %d records issued, %d records with photos, %d of %d lists whole, %d letters; "+
		"unsure %s\n%s", *kills, took.Round(time.Second), len(x.homes), len(x.issues), len(x.photos), whole,
		len(x.lists), len(seen), one("SELECT count(*) FROM outbox WHERE state = 'unsure'"), said)
	if len(x.issues) < *kills/10 || len(x.photos) == 0 || len(seen) == 0 || whole == 0 {
		t.Error("too little was done to prove anything")
	}
}

// crashless starts the server once more and asks it for the photos.
func (x *torture) crashless() {
	x.start(strings.TrimPrefix(x.base, "http://"))
	for id, count := range x.photos {
		var got struct {
			Record struct {
				Photos []struct{ SHA256 string }
			}
		}
		status := (client{x.firm, x.key}).call(http.MethodGet, "/records/"+id, nil, &got)
		if n := len(got.Record.Photos); status != http.StatusOK || n < count[0] || n > count[1] {
			x.t.Errorf("record %s has %d photos: %d were acknowledged, %d asked for", id, n, count[0], count[1])
		}
		for _, p := range got.Record.Photos {
			x.firm.engineer.get("/records/" + id + "/photos/" + p.SHA256)
		}
	}
	x.stop()
}
