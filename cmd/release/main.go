// Command release builds what is handed out: the program as one static file, a
// container image with nothing but the program in it, and their checksums. The
// same commit gives the same bytes on the same machine.
package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"time"
)

func main() {
	var r release
	flag.StringVar(&r.version, "version", "", "version, such as 1.2.0")
	flag.StringVar(&r.dir, "out", "dist", "folder to write to; it must not be there yet")
	flag.Parse()
	if err := r.make(); err != nil {
		fmt.Fprintln(os.Stderr, "release:", err)
		os.Exit(1)
	}
}

// release is one build.
type release struct {
	version, dir string
	commit       string
	at           time.Time // of the commit
}

var versions = regexp.MustCompile(`^[0-9]+\.[0-9]+\.[0-9]+(-[0-9A-Za-z.]+)?$`)

func (r *release) make() (err error) {
	if !versions.MatchString(r.version) {
		return fmt.Errorf("-version %q: give one such as 1.2.0 or 1.2.0-rc1", r.version)
	}
	if err := r.readCommit(); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(filepath.Clean(r.dir)), 0o755); err != nil {
		return err
	}
	if err := os.Mkdir(r.dir, 0o755); err != nil {
		return err
	}
	defer func() {
		if err != nil { // half a release is none
			err = errors.Join(err, os.RemoveAll(r.dir))
		}
	}()
	name := fmt.Sprintf("gaugebook-%s-%s-%s", r.version, runtime.GOOS, runtime.GOARCH)
	work, err := os.MkdirTemp("", "release-*")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(work)) }()
	program := filepath.Join(work, "gaugebook")
	if err := r.build(program); err != nil {
		return err
	}
	made := []string{name + ".tar.gz", name + "-image.tar"}
	if err := r.pack(filepath.Join(r.dir, made[0]), name, program); err != nil {
		return err
	}
	if err := r.image(filepath.Join(r.dir, made[1]), program); err != nil {
		return err
	}
	return r.checksums(made)
}

// readCommit reads what is being built. Changes that are in no commit are part of
// its name.
func (r *release) readCommit() error {
	ask := func(args ...string) (string, error) {
		out, err := exec.Command("git", args...).Output()
		return strings.TrimSpace(string(out)), err
	}
	commit, err := ask("rev-parse", "HEAD")
	if err != nil {
		return fmt.Errorf("git rev-parse: %w", err)
	}
	at, err := ask("log", "-1", "--format=%ct")
	if err != nil {
		return fmt.Errorf("git log: %w", err)
	}
	changed, err := ask("status", "--porcelain", "--untracked-files=no")
	if err != nil {
		return fmt.Errorf("git status: %w", err)
	}
	if r.commit = commit; changed != "" {
		r.commit += "-changed"
	}
	unix, err := strconv.ParseInt(at, 10, 64)
	r.at = time.Unix(unix, 0).UTC()
	return err
}

// build makes the static program. SQLite's loader of extensions and the system's
// lists of users and hosts need a C library at run time, and we need none of them.
func (r *release) build(program string) error {
	cmd := exec.Command("go", "build", "-trimpath", "-buildvcs=false", "-tags",
		"netgo,osusergo,sqlite_omit_load_extension", "-o", program, "-ldflags",
		"-s -w -linkmode external -extldflags -static -X main.release="+r.version+" -X main.commit="+r.commit,
		"./cmd/gaugebook")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=1")
	cmd.Stdout, cmd.Stderr = os.Stderr, os.Stderr
	return cmd.Run()
}

// checksums writes the SHA-256 of each file, as sha256sum -c reads it.
func (r *release) checksums(names []string) error {
	var text strings.Builder
	for _, name := range names {
		f, err := os.Open(filepath.Join(r.dir, name))
		if err != nil {
			return err
		}
		sum := sha256.New()
		_, err = io.Copy(sum, f)
		if err = errors.Join(err, f.Close()); err != nil {
			return err
		}
		fmt.Fprintf(&text, "%s  %s\n", hex.EncodeToString(sum.Sum(nil)), name)
	}
	return os.WriteFile(filepath.Join(r.dir, "SHA256SUMS"), []byte(text.String()), 0o644)
}
