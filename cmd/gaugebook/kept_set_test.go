package main

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gaugebook/pdf/pdftest"
)

// The registers and issued records that earlier programs wrote; see the
// README in each folder. Nothing in them ever changes.
const (
	registersDir = "../../testdata/registers"
	issuedDir    = "../../testdata/issued"
)

// expectation is expected.json of a kept register: what it held when it was
// kept. It names meanings, not pages or columns; how they are found in today's
// program is said by the tests.
type expectation struct {
	Made     string `json:"made"`
	Schema   int    `json:"schema"` // of the database
	Register struct {
		SHA256 string `json:"sha256"` // of register.db
		Size   int    `json:"size"`
	} `json:"register"`
	People     []keptPerson    `json:"people"`
	Records    []keptRecord    `json:"records"`
	Drafts     []keptDraft     `json:"drafts"`
	Appliances []keptAppliance `json:"appliances"`
	Messages   []keptMessage   `json:"messages"`
	Links      []keptLink      `json:"links"`
	Keys       []keptKey       `json:"keys"`
	Stops      []keptToken     `json:"stops"` // of reminders
	Feeds      []keptToken     `json:"feeds"` // of calendars
	Shown      []keptWords     `json:"shown"`
	Rows       map[string]int  `json:"rows"` // by table
}

// keptPerson is somebody with a part in the register. Passwords protect
// nothing: they are of invented people in a public file.
type keptPerson struct {
	Name     string `json:"name"`
	Email    string `json:"email"`
	Role     string `json:"role"`
	Password string `json:"password,omitempty"`
	Account  string `json:"account"` // open, invited or closed
}

// keptRecord is an issued record, whatever became of it.
type keptRecord struct {
	ID           string `json:"id"`
	Number       string `json:"number"`
	Code         string `json:"code"`
	Stage        string `json:"stage"`
	Standing     string `json:"standing"`
	Purpose      string `json:"purpose"`
	WorkDate     string `json:"work_date"`
	Kind         string `json:"kind"` // of appliance
	Serial       string `json:"serial"`
	Engineer     string `json:"engineer"`
	SHA256       string `json:"sha256"` // of the canonical JSON
	PaperSHA256  string `json:"paper_sha256"`
	Replaces     string `json:"replaces,omitempty"`
	ReplacedBy   string `json:"replaced_by,omitempty"`
	WithdrawnWhy string `json:"withdrawn_why,omitempty"`
}

// keptDraft is a draft, with the entries that make it whole. Refused are
// entries that were not accepted, by field.
type keptDraft struct {
	ID       string            `json:"id"`
	Name     string            `json:"name"`
	Engineer string            `json:"engineer"` // e-mail
	Purpose  string            `json:"purpose"`
	Refused  map[string]string `json:"refused,omitempty"`
	Photos   int               `json:"photos,omitempty"`
	Finish   json.RawMessage   `json:"finish,omitempty"` // sections, as the API takes them
}

type keptAppliance struct {
	ID      string     `json:"id"`
	Kind    string     `json:"kind"`
	Serial  string     `json:"serial,omitempty"`
	Retired bool       `json:"retired,omitempty"`
	Duties  []keptDuty `json:"duties,omitempty"`
	Visits  []string   `json:"visits,omitempty"` // ids of records at every stage
}

// keptDuty is a duty; state is open, done or lifted.
type keptDuty struct {
	ID    string `json:"id"`
	Kind  string `json:"kind"`
	Due   string `json:"due"`
	State string `json:"state"`
}

// keptMessage is a message in the outbox; next is when one that is due is
// tried next.
type keptMessage struct {
	State   string `json:"state"`
	To      string `json:"to"`
	Subject string `json:"subject"`
	Next    string `json:"next,omitempty"` // RFC 3339
}

// keptLink is a customer's private link; it works until the instant given, or
// was ended.
type keptLink struct {
	Token  string `json:"token"`
	Number string `json:"number"`
	Until  string `json:"until,omitempty"` // RFC 3339
	Ended  bool   `json:"ended,omitempty"`
}

// keptKey is a key for programs; it works until the instant given, or was
// ended. Keys without a scope are of before there were any.
type keptKey struct {
	Email string `json:"email"`
	Token string `json:"token"`
	Scope string `json:"scope,omitempty"`
	Until string `json:"until,omitempty"` // RFC 3339
	Ended bool   `json:"ended,omitempty"`
}

// keptToken is an address that was given out.
type keptToken struct {
	Token string `json:"token"`
	Ended bool   `json:"ended,omitempty"`
}

// keptWords are words that people wrote and that the page about a thing must
// show: about names the kind of page, id the thing.
type keptWords struct {
	About string   `json:"about"`
	ID    string   `json:"id,omitempty"`
	As    string   `json:"as"` // role of who looks
	Words []string `json:"words"`
}

// issuedSet is set.json of a folder of issued records: what was sealed, as
// data. The papers lie in the register that issued them.
type issuedSet struct {
	Made     string       `json:"made"`
	Schema   int          `json:"schema"`   // of the records' JSON
	Register string       `json:"register"` // below testdata/registers
	Records  []issuedFile `json:"records"`
}

type issuedFile struct {
	Number   string `json:"number"`
	Record   string `json:"record"` // file with the canonical JSON
	Seal     string `json:"seal"`   // file with the seal's JSON
	Paper    string `json:"paper"`  // in the register's folder
	Kind     string `json:"kind"`
	Purpose  string `json:"purpose"`
	Standing string `json:"standing"`
}

// keptSets lists the folders below one.
func keptSets(tb testing.TB, dir string) []string {
	tb.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		tb.Fatal(err)
	}
	var out []string
	for _, e := range entries {
		if e.IsDir() {
			out = append(out, filepath.Join(dir, e.Name()))
		}
	}
	if len(out) == 0 {
		tb.Fatalf("nothing is kept in %s", dir)
	}
	return out
}

func readJSON(tb testing.TB, name string, v any) {
	tb.Helper()
	d := json.NewDecoder(bytes.NewReader(read(tb, name)))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		tb.Fatalf("%s: %v", name, err)
	}
}

func sumOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// unchanged holds every file of a set against SHA256SUMS, which sha256sum -c
// reads as well.
func unchanged(tb testing.TB, dir string) {
	tb.Helper()
	known := map[string]bool{"SHA256SUMS": true}
	for _, line := range strings.Split(strings.TrimSpace(string(read(tb, filepath.Join(dir, "SHA256SUMS")))), "\n") {
		sum, name, ok := strings.Cut(line, "  ")
		if !ok {
			tb.Fatalf("SHA256SUMS: %q", line)
		}
		known[name] = true
		if got := sumOf(read(tb, filepath.Join(dir, name))); got != sum {
			tb.Errorf("%s has been changed: what is kept stays as it is", filepath.Join(dir, name))
		}
	}
	for _, name := range filesBelow(tb, dir) {
		if !known[name] {
			tb.Errorf("%s is not in SHA256SUMS: a set is not added to; keep another", filepath.Join(dir, name))
		}
	}
}

// filesBelow lists files by their path below dir.
func filesBelow(tb testing.TB, dir string) []string {
	tb.Helper()
	var out []string
	err := filepath.WalkDir(dir, func(name string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		below, err := filepath.Rel(dir, name)
		out = append(out, filepath.ToSlash(below))
		return err
	})
	if err != nil {
		tb.Fatal(err)
	}
	return out
}

// unpack puts a kept register together in a folder, byte for byte as it was
// when it was kept.
func unpack(tb testing.TB, set, dir string) (want expectation) {
	tb.Helper()
	readJSON(tb, filepath.Join(set, "expected.json"), &want)
	in, err := gzip.NewReader(bytes.NewReader(read(tb, filepath.Join(set, "register.db.gz"))))
	if err != nil {
		tb.Fatal(err)
	}
	db, err := io.ReadAll(in)
	if err != nil {
		tb.Fatal(err)
	}
	if err := fillIn(db, read(tb, filepath.Join(set, "register.fill")), func(paper string) ([]byte, error) {
		return os.ReadFile(filepath.Join(set, "papers", paper))
	}); err != nil {
		tb.Fatalf("%s: %v", set, err)
	}
	if len(db) != want.Register.Size || sumOf(db) != want.Register.SHA256 {
		tb.Fatalf("%s does not come out as it was kept", set)
	}
	put := func(name string, data []byte) {
		to := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
			tb.Fatal(err)
		}
		if err := os.WriteFile(to, data, 0o600); err != nil {
			tb.Fatal(err)
		}
	}
	put("register.db", db)
	for _, name := range filesBelow(tb, set) {
		if name == "firm.key" || strings.HasPrefix(name, "photos/") {
			put(name, read(tb, filepath.Join(set, name)))
		}
	}
	return want
}

// fillIn puts back into a register what was left out of it because it lies
// beside it as a paper: each line of fill is a place in the register, a paper,
// a place in that and a length.
func fillIn(db, fill []byte, paper func(string) ([]byte, error)) error {
	known := map[string][]byte{}
	for line := range strings.Lines(string(fill)) {
		f := strings.Fields(line)
		if len(f) != 4 {
			return fmt.Errorf("register.fill: %q", line)
		}
		var at [4]int
		for _, i := range []int{0, 2, 3} {
			n, err := strconv.Atoi(f[i])
			if err != nil {
				return fmt.Errorf("register.fill: %q: %w", line, err)
			}
			at[i] = n
		}
		from, ok := known[f[1]]
		if !ok {
			var err error
			if from, err = paper(f[1]); err != nil {
				return err
			}
			known[f[1]] = from
		}
		if at[0] < 0 || at[2] < 0 || at[3] < 0 || at[0]+at[3] > len(db) || at[2]+at[3] > len(from) {
			return fmt.Errorf("register.fill: %q reaches beyond an end", line)
		}
		copy(db[at[0]:at[0]+at[3]], from[at[2]:])
	}
	return nil
}

// leaveOut is the other way: it blanks in a register what stands in a paper
// too, and says how to fill it in. A print lies in the register in pieces, one
// to a page of the file, each after the number of the page that goes on.
func leaveOut(db []byte, papers map[string][]byte) (fill []byte) {
	const page, number, least, look = 4096, 4, 256, 24
	var out strings.Builder
	for start := number; start+look < len(db); start += page {
		piece := db[start:min(start+page-number, len(db))]
		for _, name := range sortedKeys(papers) {
			paper := papers[name]
			at := bytes.Index(paper, piece[:look])
			if at < 0 {
				continue
			}
			n := 0
			for n < len(piece) && at+n < len(paper) && piece[n] == paper[at+n] {
				n++
			}
			if n >= least {
				fmt.Fprintln(&out, start, name, at, n)
				clear(piece[:n])
				break
			}
		}
	}
	return []byte(out.String())
}

func sortedKeys[V any](m map[string]V) []string {
	return slices.Sorted(maps.Keys(m))
}

func sortBy[E any](list []E, key func(E) string) {
	slices.SortFunc(list, func(a, b E) int { return strings.Compare(key(a), key(b)) })
}

// openDB opens a register from outside, as the file that it is.
func openDB(tb testing.TB, dir string) *sql.DB {
	tb.Helper()
	db, err := sql.Open("sqlite3", filepath.Join(dir, "register.db"))
	if err != nil {
		tb.Fatal(err)
	}
	return db
}

// detach takes the files out of a PDF.
func detach(tb testing.TB, paper string) map[string][]byte {
	tb.Helper()
	dir := tb.TempDir()
	pdftest.Run(tb, "pdfdetach", "-saveall", "-o", dir, paper)
	out := map[string][]byte{}
	for _, name := range filesBelow(tb, dir) {
		out[name] = read(tb, filepath.Join(dir, name))
	}
	return out
}
