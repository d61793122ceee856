package records_test

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// Package records and due run unchanged on the phone, so they import the
// standard library only, and of it nothing that serves, stores or shows.
func TestImportsOnlyTheStandardLibrary(t *testing.T) {
	out, err := exec.Command("go", "list", "-deps", "-f", "{{if not .Standard}}{{.ImportPath}}{{end}}",
		"gaugebook/records/due").Output()
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Fields(string(out)); strings.Join(got, " ") != "gaugebook/records gaugebook/records/due" {
		t.Errorf("due and records depend on %v", got)
	}
	out, err = exec.Command("go", "list", "-f", `{{join .Imports "\n"}}`, "gaugebook/records",
		"gaugebook/records/due").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range strings.Fields(string(out)) {
		switch path {
		case "os", "net", "net/http", "database/sql", "html/template", "log", "math/rand", "os/exec", "unsafe", "C":
			t.Errorf("imports %s", path)
		}
	}
}

func TestBuildsForWebAssembly(t *testing.T) {
	cmd := exec.Command("go", "build", "gaugebook/records", "gaugebook/records/due")
	cmd.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}
