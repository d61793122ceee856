package main

import (
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// allowed is a row of the table in DEVELOPERS.md: what a package may import.
type allowed struct {
	ours, libraries []string
	pure            bool
}

// notPure is what a package that also runs on a phone keeps away from.
var notPure = []string{"os", "os/exec", "net", "net/http", "database/sql", "html/template", "log", "log/slog",
	"math/rand", "time/tzdata", "unsafe", "C"}

const module = "gaugebook/"

// importTable reads the table.
func importTable(t *testing.T) map[string]allowed {
	t.Helper()
	doc, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	table := map[string]allowed{}
	quoted := regexp.MustCompile("`([^`]+)`")
	for line := range strings.Lines(string(doc)) {
		cells := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
		if len(cells) != 4 || !strings.HasPrefix(line, "| `") {
			continue
		}
		var row allowed
		for _, m := range quoted.FindAllStringSubmatch(cells[2], -1) {
			row.ours = append(row.ours, m[1])
		}
		for word := range strings.SplitSeq(cells[3], ",") {
			switch word = strings.TrimSpace(word); word {
			case "none":
			case "pure":
				row.pure = true
			default:
				row.libraries = append(row.libraries, word)
			}
		}
		table[quoted.FindStringSubmatch(cells[0])[1]] = row
	}
	return table
}

type listed struct {
	ImportPath string
	Imports    []string
	Standard   bool
}

func listedPackages(t *testing.T) []listed {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Imports", "./...")
	cmd.Dir = "../.."
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var all []listed
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			return all
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
}

// against holds what a package imports against its row and says what differs.
func (a allowed) against(imports []string) []string {
	var wrong []string
	used := map[string]bool{}
	for _, path := range imports {
		own, ours := strings.CutPrefix(path, module)
		first, _, _ := strings.Cut(path, "/")
		switch {
		case ours:
			used[own] = true
			if !slices.Contains(a.ours, own) {
				wrong = append(wrong, "imports "+own)
			}
		case strings.Contains(first, "."):
			i := slices.IndexFunc(a.libraries, func(name string) bool {
				return slices.Contains(strings.FieldsFunc(path, func(r rune) bool { return r == '/' }), name) ||
					first == name+".io"
			})
			if i < 0 {
				wrong = append(wrong, "imports "+path)
			} else {
				used[a.libraries[i]] = true
			}
		case a.pure && slices.Contains(notPure, path):
			wrong = append(wrong, "is pure and imports "+path)
		}
	}
	for _, name := range slices.Concat(a.ours, a.libraries) {
		if !used[name] {
			wrong = append(wrong, "may import "+name+", but does not")
		}
	}
	return wrong
}

// The table of DEVELOPERS.md is true of every package of the module.
func TestImportsAreThoseOfTheTable(t *testing.T) {
	t.Parallel()
	table := importTable(t)
	for _, p := range listedPackages(t) {
		name := strings.TrimPrefix(p.ImportPath, module)
		row, ok := table[name]
		if !ok {
			t.Errorf("%s has no row", name)
			continue
		}
		for _, wrong := range row.against(p.Imports) {
			t.Errorf("%s %s", name, wrong)
		}
		delete(table, name)
	}
	for name := range table {
		t.Errorf("%s has a row but is no package", name)
	}
	// The test itself must be able to fail.
	row := allowed{ours: []string{"records"}, libraries: []string{"echo"}, pure: true}
	got := row.against([]string{module + "server", "gorm.io/gorm", "net/http", "strings"})
	if want := []string{"imports server", "imports gorm.io/gorm", "is pure and imports net/http",
		"may import records, but does not", "may import echo, but does not"}; !slices.Equal(got, want) {
		t.Errorf("found %q", got)
	}
}
