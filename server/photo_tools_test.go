package server_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

func emptyFolder(t *testing.T, dir string) {
	t.Helper()
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
}

// pdfParts lists the images and the text of a PDF as an independent reader
// finds them.
func pdfParts(t *testing.T, file string) (images, text string) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "record.pdf")
	if err := os.WriteFile(name, []byte(file), 0o600); err != nil {
		t.Fatal(err)
	}
	run := func(program string, args ...string) string {
		out, err := exec.Command(program, args...).Output()
		if err != nil {
			t.Fatalf("%s: %v", program, err)
		}
		return string(out)
	}
	return run("pdfimages", "-list", name), run("pdftotext", "-layout", name, "-")
}
