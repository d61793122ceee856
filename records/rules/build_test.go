package rules_test

import (
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
)

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

// The rules run unchanged on the phone, so they may import the standard
// library and their two neighbours only, and of the standard library nothing
// that reaches a network, a file or a clock.
func TestImportsOnlyTheStandardLibrary(t *testing.T) {
	allowed := map[string]bool{"gaugebook/records": true, "gaugebook/records/gas": true,
		"gaugebook/records/rules": true}
	for _, path := range strings.Fields(goTool(t, nil, "list", "-deps", "-f",
		"{{if not .Standard}}{{.ImportPath}}{{end}}", ".")) {
		if !allowed[path] {
			t.Errorf("imports %s", path)
		}
	}
	small := map[string]bool{"fmt": true, "math": true, "strings": true}
	for _, path := range strings.Fields(goTool(t, nil, "list", "-f", `{{join .Imports "\n"}}`, ".")) {
		if !small[path] && !allowed[path] {
			t.Errorf("the rules need no %s", path)
		}
	}
}

func TestBuildsForWebAssembly(t *testing.T) {
	goTool(t, []string{"GOOS=js", "GOARCH=wasm", "CGO_ENABLED=0"}, "build", "-o", os.DevNull, ".")
}

// A fused multiply-add rounds once where two machines round twice; the phone
// and the server must draw the same edge.
func TestNoFusedMultiplyAdd(t *testing.T) {
	fused := regexp.MustCompile(`(?m)\t(FN?MADD[SD]?|FN?MSUB[SD]?|VFN?MADD\w+)\t.*$`)
	out := goTool(t, []string{"GOOS=linux", "GOARCH=arm64", "CGO_ENABLED=0"}, "build", "-gcflags=-S", "-o", os.DevNull,
		".")
	if !strings.Contains(out, "predictedDrop") {
		t.Fatal("no assembly seen")
	}
	for _, line := range fused.FindAllString(out, -1) {
		t.Error(strings.TrimSpace(line))
	}
}
