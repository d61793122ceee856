package gas_test

import (
	"bytes"
	"go/build"
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
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go %s: %v\n%s", strings.Join(args, " "), err, stderr.String())
	}
	return string(out) + stderr.String()
}

func TestImportsOnlyTheStandardLibrary(t *testing.T) {
	deps := strings.Fields(goTool(t, nil, "list", "-deps", "-f", "{{if not .Standard}}{{.ImportPath}}{{end}}", "."))
	if len(deps) != 1 || deps[0] != "gaugebook/records/gas" {
		t.Errorf("imports outside the standard library: %v", deps)
	}
	pkg, err := build.ImportDir(".", 0)
	if err != nil {
		t.Fatal(err)
	}
	allowed := map[string]bool{"math": true, "strconv": true}
	for _, path := range pkg.Imports {
		if !allowed[path] {
			t.Errorf("physics needs no %s", path)
		}
	}
}

func TestBuildsForWebAssembly(t *testing.T) {
	goTool(t, []string{"GOOS=js", "GOARCH=wasm", "CGO_ENABLED=0"}, "build", "-o", os.DevNull, ".")
}

// A fused multiply-add rounds once where two machines round twice. The
// assembly for processors that have it must not hold any.
func TestNoFusedMultiplyAdd(t *testing.T) {
	fused := regexp.MustCompile(`(?m)\t(FN?MADD[SD]?|FN?MSUB[SD]?|VFN?MADD\w+)\t.*$`)
	for _, arch := range []string{"arm64"} {
		out := goTool(t, []string{"GOOS=linux", "GOARCH=" + arch, "CGO_ENABLED=0"}, "build", "-gcflags=-S", "-o",
			os.DevNull, ".")
		if !strings.Contains(out, "colebrook") {
			t.Fatalf("%s: no assembly seen", arch)
		}
		for _, line := range strings.Split(out, "\n") {
			if fused.MatchString(line) {
				t.Errorf("%s: %s", arch, strings.TrimSpace(line))
			}
		}
	}
}
