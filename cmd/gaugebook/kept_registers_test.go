package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"flag"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"gaugebook/server/servertest"
)

var unpackTo = flag.String("unpack", "",
	"put the kept registers together in this folder, to look at; nothing is tested")

// Every register that was kept opens with today's program, migrates, and
// still holds what it held: what was sealed byte for byte, the rest by
// meaning. Nothing here knows a table of today's but countedElsewhere.
func TestKeptRegisters(t *testing.T) {
	t.Parallel()
	for _, set := range keptSets(t, registersDir) {
		if *unpackTo != "" {
			unpack(t, set, filepath.Join("../..", *unpackTo, filepath.Base(set)))
			continue
		}
		t.Run(filepath.Base(set), func(t *testing.T) {
			t.Parallel()
			unchanged(t, set)
			dir := filepath.Join(t.TempDir(), "register")
			want := unpack(t, set, dir)
			must(t, "", "audit", "--data", dir) // of the older schema, as it is
			serve(t, dir).stop()                // migrates
			rowsStillThere(t, dir, want)
			noTokens(t, dir, want)
			lines := filepath.Join(t.TempDir(), "register.jsonl")
			must(t, "", "export", "--data", dir, lines)
			t.Run("moved", func(t *testing.T) {
				t.Parallel()
				moved(t, set, lines, want)
			})
			t.Run("papers", func(t *testing.T) {
				t.Parallel()
				papersGenuine(t, set, dir, want)
			})
			t.Run("served", func(t *testing.T) {
				t.Parallel()
				served(t, set, dir, want)
			})
		})
	}
}

// countedElsewhere says where the rows of a table are found that a later
// program renamed, split or merged: a query that counts them. Whoever moves
// rows adds a line here; the kept registers stay as they are.
var countedElsewhere = map[string]string{}

// notCounted are tables whose rows come and go by themselves or follow from
// others.
var notCounted = map[string]string{
	"audit":                    "grows when a register is opened; gaugebook audit proves it",
	"sessions":                 "end after thirty days",
	"once_keys":                "are forgotten after thirty days",
	"appliance_words":          "made from the appliances",
	"appliance_words_docsize":  "made from the appliances",
	"appliance_words_segdir":   "made from the appliances",
	"appliance_words_segments": "made from the appliances",
	"appliance_words_stat":     "made from the appliances",
	"due_days":                 "counted from the duties",
	"issue_counts":             "counted from the records",
	"uncalibrated":             "looked up in the records",
	"goose_db_version":         "grows with each migration",
	"sqlite_sequence":          "SQLite's own",
}

// noTokens looks for the links of earlier messages in the file itself: they work
// on, and whoever copies the file learns none.
func noTokens(t *testing.T, dir string, want expectation) {
	t.Helper()
	for _, name := range []string{"register.db", "register.db-wal"} {
		file, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil && !os.IsNotExist(err) {
			t.Fatal(err)
		}
		for _, l := range want.Links {
			if bytes.Contains(file, []byte(l.Token)) {
				t.Errorf("%s holds the link to %s in the clear", name, l.Number)
			}
		}
		if found := regexp.MustCompile(`/(join|r|stop)/[a-z2-7]{26}`).Find(file); found != nil {
			t.Errorf("%s holds %s", name, found)
		}
	}
}

func rowsStillThere(t *testing.T, dir string, want expectation) {
	t.Helper()
	db := openDB(t, dir)
	defer db.Close()
	for _, table := range sortedKeys(want.Rows) {
		if notCounted[table] != "" {
			continue
		}
		query := countedElsewhere[table]
		if query == "" {
			query = `SELECT count(*) FROM "` + table + `"`
		}
		var n int
		if err := db.QueryRow(query).Scan(&n); err != nil {
			t.Errorf("%s: %v: where have its rows gone? Say so in countedElsewhere", table, err)
		} else if n != want.Rows[table] {
			t.Errorf("%s: %d rows, were %d", table, n, want.Rows[table])
		}
	}
}

// papersGenuine asks the command line about each paper, and programs that know
// nothing of this one for what is attached to it. No photo is missing.
func papersGenuine(t *testing.T, set, dir string, want expectation) {
	for _, r := range want.Records {
		paper := filepath.Join(set, "papers", r.Number+".pdf")
		if sumOf(read(t, paper)) != r.PaperSHA256 {
			t.Errorf("%s is another paper", paper)
		}
		got := gaugebook(t, "", "verify", "--data", dir, paper)
		if got.code != exitClear || !strings.Contains(got.out, r.Number) {
			t.Errorf("%s is not genuine: exit %d\n%s%s", paper, got.code, got.out, got.err)
		}
		if got := sumOf(detach(t, paper)["record.json"]); got != r.SHA256 {
			t.Errorf("%s: the attached record has the sum %s", paper, got)
		}
	}
	must(t, "", "backup", "--data", dir, filepath.Join(t.TempDir(), "copy.db"))
}

// moved takes the register out as lines and into an empty folder: every seal
// holds and every paper is the same.
func moved(t *testing.T, set, lines string, want expectation) {
	canonical, papers := map[string]string{}, map[string]string{}
	for _, line := range bytes.Split(bytes.TrimSpace(read(t, lines)), []byte("\n")) {
		var l struct {
			Line, ID  string
			Canonical json.RawMessage
			PDF       []byte
		}
		if err := json.Unmarshal(line, &l); err != nil {
			t.Fatal(err)
		}
		if l.Line == "record" && l.Canonical != nil {
			canonical[l.ID], papers[l.ID] = sumOf(l.Canonical), sumOf(l.PDF)
		}
	}
	for _, r := range want.Records {
		if canonical[r.ID] != r.SHA256 || papers[r.ID] != r.PaperSHA256 {
			t.Errorf("%s leaves otherwise than it was sealed or printed", r.Number)
		}
	}
	to := filepath.Join(t.TempDir(), "moved")
	if err := os.Mkdir(to, 0o700); err != nil {
		t.Fatal(err)
	}
	write(t, to, "firm.key", string(read(t, filepath.Join(set, "firm.key"))))
	must(t, "", "import", "--data", to, lines)
	must(t, "", "audit", "--data", to)
	again := filepath.Join(t.TempDir(), "again.jsonl")
	must(t, "", "export", "--data", to, again)
	if a, b := withoutLog(read(t, lines)), withoutLog(read(t, again)); !bytes.Equal(a, b) {
		t.Errorf("it comes back otherwise: %s", firstOther(a, b))
	}
	owner := personOf(t, want, "owner")
	must(t, "another phrase of words\n", "owner", "--data", to, "--name", owner.Name, "--email", owner.Email)
	v := serve(t, to).visitor(t).signIn(owner.Email, "another phrase of words")
	for _, r := range want.Records {
		if got := sumOf(v.get("/records/" + r.ID + "/pdf").body); got != r.PaperSHA256 {
			t.Errorf("%s: the moved register has another paper", r.Number)
		}
	}
}

// firstOther names the first line that differs.
func firstOther(a, b []byte) string {
	x, y := bufio.NewScanner(bytes.NewReader(a)), bufio.NewScanner(bytes.NewReader(b))
	for _, s := range []*bufio.Scanner{x, y} {
		s.Buffer(nil, 64<<20)
	}
	for x.Scan() && y.Scan() {
		if !bytes.Equal(x.Bytes(), y.Bytes()) {
			return string(x.Bytes()[:min(300, len(x.Bytes()))]) + "\nis now\n" +
				string(y.Bytes()[:min(300, len(y.Bytes()))])
		}
	}
	return "one has more lines"
}

// personOf returns the first person of a role with an open account.
func personOf(tb testing.TB, want expectation, role string) keptPerson {
	tb.Helper()
	for _, p := range want.People {
		if p.Role == role && p.Account == "open" {
			return p
		}
	}
	tb.Fatalf("nobody is %s", role)
	return keptPerson{}
}

// reader looks at a served register as everybody who may.
type reader struct {
	*service
	t    *testing.T
	want expectation
	by   map[string]*visitor // by role, and by e-mail
	api  map[string]keyed    // by e-mail
}

// served starts the server on the register and looks at everything kept.
func served(t *testing.T, set, dir string, want expectation) {
	r := &reader{service: serve(t, dir), t: t, want: want, by: map[string]*visitor{}, api: map[string]keyed{}}
	r.signIn()
	r.issued()
	r.links()
	r.appliances()
	r.queued()
	r.messages()
	for _, w := range want.Shown {
		r.by[w.As].get(pageAbout(t, w.About, w.ID)).says(w.Words...)
	}
	r.drafts()
	r.stop()
	must(t, "", "audit", "--data", dir)
}

// signIn lets in whoever could sign in, with the password and the keys that
// they had, and nobody else.
func (r *reader) signIn() {
	for _, p := range r.want.People {
		v := r.visitor(r.t)
		if p.Account != "open" {
			in := fields{"email": p.Email, "password": p.Password}
			if got := v.get("/sign-in").fill("/sign-in", in).press(); got.path == "/" {
				r.t.Errorf("%s is let in with an account that is %s", p.Email, p.Account)
			}
			continue
		}
		v.signIn(p.Email, p.Password)
		r.by[p.Email] = v
		if r.by[p.Role] == nil {
			r.by[p.Role] = v
		}
	}
	for _, k := range r.want.Keys {
		api := keyed{r.visitor(r.t), k.Token}
		if k.Ended {
			api.call(http.MethodGet, "/duties", nil, nil, http.StatusUnauthorized)
			continue
		}
		if !stillOn(r.t, k.Until) { // it has run out by now: another
			api.key = newAPIKey(r.by[k.Email], "reader of a kept register", k.Scope)
		}
		api.call(http.MethodGet, "/duties", nil, nil, http.StatusOK)
		if k.Scope == "" || k.Scope == "issue" {
			r.api[k.Email] = api
		}
	}
}

// queued waits for the messages that were still to be sent: they go out, with
// the paper as it was.
func (r *reader) queued() {
	for _, m := range r.want.Messages {
		if m.State != "due" {
			continue
		}
		servertest.Eventually(r.t, "the message that waited for "+m.To, func() bool {
			return slices.ContainsFunc(letters(r.t, r.dir), func(l letter) bool {
				return strings.Contains(l.to, m.To) && l.subject == m.Subject && r.isPaper(l)
			})
		})
	}
}

// isPaper reports whether what is attached to a letter is one of the papers.
func (r *reader) isPaper(l letter) bool {
	for _, data := range l.files {
		if !slices.ContainsFunc(r.want.Records, func(k keptRecord) bool { return k.PaperSHA256 == sumOf(data) }) {
			return false
		}
	}
	return len(l.files) > 0
}

// messages looks for each message in the state that it was in. One that was
// due may have been sent since.
func (r *reader) messages() {
	for _, m := range r.want.Messages {
		state := m.State
		if state == "due" {
			state = "sent"
		}
		r.by["owner"].get("/messages?state="+state).says(m.To, m.Subject)
	}
}
