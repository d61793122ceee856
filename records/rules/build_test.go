package rules_test

import (
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// What runs unchanged on the phone, and what each package may import of the
// others and of the standard library: nothing that reaches a network, a file or a
// clock. nil: see forbidden.
var onThePhone = map[string][]string{
	"gaugebook/records/gas": {"math", "strconv"},
	"gaugebook/records":     nil,
	"gaugebook/records/due": nil,
	"gaugebook/records/rules": {"fmt", "math", "strings", "gaugebook/records", "gaugebook/records/gas",
		"gaugebook/records/rules"},
}

var forbidden = []string{"os", "net", "net/http", "database/sql", "html/template", "log", "math/rand", "os/exec",
	"unsafe", "C"}

func goTool(t *testing.T, env []string, args ...string) string {
	t.Helper()
	cmd := exec.Command("go", args...)
	cmd.Env = append(os.Environ(), env...)
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go %s: %v\n%s", strings.Join(args, " "), err, stderr.String())
	}
	return string(out) + stderr.String()
}

func TestImportsOnlyTheStandardLibrary(t *testing.T) {
	t.Parallel()
	for path, allowed := range onThePhone {
		t.Run(path, func(t *testing.T) {
			for _, dep := range strings.Fields(goTool(t, nil, "list", "-deps", "-f",
				"{{if not .Standard}}{{.ImportPath}}{{end}}", path)) {
				if _, ours := onThePhone[dep]; !ours {
					t.Errorf("depends on %s", dep)
				}
			}
			for _, imported := range strings.Fields(goTool(t, nil, "list", "-f", `{{join .Imports "\n"}}`, path)) {
				if allowed != nil && !slices.Contains(allowed, imported) || slices.Contains(forbidden, imported) {
					t.Errorf("needs no %s", imported)
				}
			}
		})
	}
}

func TestBuildsForWebAssembly(t *testing.T) {
	t.Parallel()
	goTool(t, []string{"GOOS=js", "GOARCH=wasm", "CGO_ENABLED=0"}, "build", "gaugebook/records/due", ".")
}

// A fused multiply-add rounds once where two machines round twice; the phone
// and the server must draw the same edge. The assembly for processors that have
// it must not hold any.
func TestNoFusedMultiplyAdd(t *testing.T) {
	t.Parallel()
	fused := regexp.MustCompile(`(?m)\t(FN?MADD[SD]?|FN?MSUB[SD]?|VFN?MADD\w+)\t.*$`)
	assembly := goTool(t, []string{"GOOS=linux", "GOARCH=arm64", "CGO_ENABLED=0"}, "build",
		"-gcflags=gaugebook/records/...=-S", "gaugebook/records/due", ".")
	for _, inside := range []string{"colebrook", "predictedDrop"} {
		if !strings.Contains(assembly, inside) {
			t.Fatalf("no assembly of %s seen", inside)
		}
	}
	for _, line := range fused.FindAllString(assembly, -1) {
		t.Error(strings.TrimSpace(line))
	}
}
