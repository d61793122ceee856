package server_test

import (
	"database/sql"
	"encoding/json"
	"log/slog"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	_ "github.com/mattn/go-sqlite3"

	"gaugebook/records"
	"gaugebook/server"
	"gaugebook/server/mail"
	"gaugebook/server/servertest"
	"gaugebook/server/worker"
)

type ready struct {
	Status   string
	Problems []string
	Workers  []worker.Status
}

func readiness(t *testing.T, c *servertest.Client) (int, ready) {
	t.Helper()
	p := c.Get("/readyz")
	var r ready
	if err := json.Unmarshal([]byte(p.Body), &r); err != nil {
		t.Fatalf("%v in %s", err, p.Body)
	}
	return p.Status, r
}

// readinessIs waits for an answer of the check.
func readinessIs(t *testing.T, c *servertest.Client, what string, ok func(int, ready) bool) {
	t.Helper()
	servertest.Eventually(t, what, func() bool { return ok(readiness(t, c)) })
}

// With the outbox table gone no mail leaves: the server is alive but not ready,
// says why, and sends what waits when the table is back.
func TestMailWorkerIsMissedAndComesBack(t *testing.T) {
	dir := t.TempDir()
	site := servertest.Start(t, func(c *server.Config) {
		m := worker.NewMailSender(c.App, mail.Folder{Dir: dir}, c.App.Now, slog.New(slog.DiscardHandler))
		m.Every = 5 * time.Millisecond
		c.Workers.FirstWait, c.Workers.LongestWait = 10*time.Millisecond, 20*time.Millisecond
		c.Workers.Add(m.Job())
	})
	guest, owner := site.Guest(), site.As(records.RoleOwner)
	mailOf := func(r ready) worker.Status {
		for _, w := range r.Workers {
			if w.Name == "mail" {
				return w
			}
		}
		t.Fatalf("no mail worker in %+v", r)
		return worker.Status{}
	}
	readinessIs(t, owner, "ready", func(status int, r ready) bool {
		return status == 200 && r.Status == "ready" && r.Problems == nil && !mailOf(r).LastRun.IsZero()
	})
	db, err := sql.Open("sqlite3", filepath.Join(site.Store.Dir(), "site.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	move := func(from, to string) {
		t.Helper()
		if _, err := db.ExecContext(t.Context(), "ALTER TABLE "+from+" RENAME TO "+to); err != nil {
			t.Fatal(err)
		}
	}
	move("outbox", "outbox_away")
	readinessIs(t, owner, "not ready", func(status int, r ready) bool {
		return status == 503 && r.Status == "not ready" && len(r.Problems) == 1 &&
			strings.HasPrefix(r.Problems[0], "mail fails: ") && strings.Contains(r.Problems[0],
			"no such table: outbox") &&
			mailOf(r).State == worker.Failing && mailOf(r).Failures > 2 && !mailOf(r).LastRun.IsZero()
	})
	guest.Expect("/healthz", 200, []string{`"ok"`}, nil) // restarting would not help
	// What is wrong is nobody's business but the owner's.
	for name, c := range map[string]*servertest.Client{"a guest": guest, "the office": site.As(records.RoleOffice)} {
		if status, r := readiness(t, c); status != 503 || r.Status != "not ready" || r.Problems != nil ||
			r.Workers != nil {
			t.Errorf("%s is told %d, %+v", name, status, r)
		}
	}
	move("outbox_away", "outbox")
	readinessIs(t, owner, "ready again", func(status int, r ready) bool {
		return status == 200 && mailOf(r).State != worker.Failing && mailOf(r).Failures == 0
	})
	if p := owner.Post("/people/"+site.People[records.RoleOffice].ID+"/invite", url.Values{}); p.Status != 303 {
		t.Fatal(p.Status)
	}
	servertest.Eventually(t, "mail leaves", func() bool {
		sent, _ := filepath.Glob(filepath.Join(dir, "*.eml"))
		return len(sent) == 1
	})
}

// A register that cannot be written to is not ready, whatever can be read of it.
func TestReadinessWrites(t *testing.T) {
	site, owner := servertest.StartAs(t, records.RoleOwner)
	if err := site.Store.Writable(t.Context()); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite3", filepath.Join(site.Store.Dir(), "site.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec("CREATE TRIGGER full BEFORE UPDATE ON last_check BEGIN SELECT RAISE(ABORT, 'full'); " +
		"END"); err != nil {
		t.Fatal(err)
	}
	status, r := readiness(t, owner)
	if status != 503 || strings.Join(r.Problems, "") != "the database cannot be written to" {
		t.Errorf("%d %+v", status, r)
	}
	if p := site.Guest().Get("/healthz"); p.Status != 200 {
		t.Errorf("not live: %d", p.Status)
	}
}
