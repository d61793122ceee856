package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/server/servertest/chromium"
)

// binary builds the program once for all tests of this package.
var binary = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "gaugebook-test-*")
	if err != nil {
		return "", err
	}
	built.dir = dir
	return filepath.Join(dir, "gaugebook"), runTool("go", "build", "-o", filepath.Join(dir, "gaugebook"), ".")
})

// runTool runs a program that a test needs made or fetched.
func runTool(program string, args ...string) error {
	out, err := exec.Command(program, args...).CombinedOutput()
	if err != nil {
		return fmt.Errorf("%s %s: %w\n%s", program, args[0], err, out)
	}
	return nil
}

// built is what TestMain takes away at the end.
var built struct{ dir string }

func TestMain(m *testing.M) {
	code := chromium.Run(m)
	if built.dir != "" {
		os.RemoveAll(built.dir)
	}
	os.Exit(code)
}

func program(tb testing.TB) string {
	tb.Helper()
	return made(tb, binary)
}

// made returns what is made once for several tests.
func made(tb testing.TB, once func() (string, error)) string {
	tb.Helper()
	it, err := once()
	if err != nil {
		tb.Fatal(err)
	}
	return it
}

// gaugebook runs one command of the real binary to its end.
func gaugebook(tb testing.TB, stdin string, args ...string) outcome {
	tb.Helper()
	return gaugebookFor(tb, 2*time.Minute, stdin, args...)
}

// gaugebookFor gives the command as long as that.
func gaugebookFor(tb testing.TB, limit time.Duration, stdin string, args ...string) outcome {
	tb.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), limit)
	defer cancel()
	cmd := exec.CommandContext(ctx, program(tb), args...)
	var out, errs bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = strings.NewReader(stdin), &out, &errs
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		tb.Fatal(err)
	}
	return outcome{cmd.ProcessState.ExitCode(), out.String(), errs.String()}
}

// must runs a command that has to succeed and returns what it printed.
func must(tb testing.TB, stdin string, args ...string) string {
	tb.Helper()
	got := gaugebook(tb, stdin, args...)
	if got.code != exitClear {
		tb.Fatalf("gaugebook %v: exit %d\n%s%s", args, got.code, got.out, got.err)
	}
	return got.out
}

// service is the real server on a folder, that can be killed and started
// again at the same address.
type service struct {
	tb   testing.TB
	dir  string
	exe  string // the program to run
	args []string
	base string            // its address, once it has been started
	via  http.RoundTripper // how visitors reach it; nil: straight

	mu  sync.Mutex
	cmd *exec.Cmd
	log *lockedLog
}

// lockedLog collects what the server says on standard error.
type lockedLog struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedLog) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedLog) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// serve starts the server on a folder, at a free port of loopback.
func serve(tb testing.TB, dir string, args ...string) *service {
	tb.Helper()
	return serveWith(tb, program(tb), "127.0.0.1:0", dir, args...)
}

// serveAt starts the server on a folder, at an address of loopback.
func serveAt(tb testing.TB, listen, dir string, args ...string) *service {
	tb.Helper()
	return serveWith(tb, program(tb), listen, dir, args...)
}

// serveWith is serveAt with another build of the program.
func serveWith(tb testing.TB, exe, listen, dir string, args ...string) *service {
	tb.Helper()
	s := &service{tb: tb, dir: dir, exe: exe, args: args, log: &lockedLog{}}
	s.start(listen)
	tb.Cleanup(func() {
		s.kill()
		said := s.log.String()
		if tb.Failed() {
			tb.Logf("the server said:\n%s", said[max(0, len(said)-1500):])
		}
		for _, bad := range []string{`"level":"ERROR"`, "panic", "DATA RACE"} {
			if strings.Contains(said, bad) {
				tb.Errorf("the server's log has %s:\n%s", bad, linesWith(said, bad))
			}
		}
	})
	return s
}

func linesWith(text, word string) string {
	var out []string
	for _, line := range strings.Split(text, "\n") {
		if strings.Contains(line, word) {
			out = append(out, line)
		}
	}
	return strings.Join(out[:min(len(out), 10)], "\n")
}

func (s *service) start(listen string) {
	s.tb.Helper()
	cmd := exec.Command(s.exe, append([]string{"serve", "--data", s.dir, "--listen", listen}, s.args...)...)
	cmd.Stderr = s.log
	out, err := cmd.StdoutPipe()
	if err != nil {
		s.tb.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		s.tb.Fatal(err)
	}
	s.mu.Lock()
	s.cmd = cmd
	s.mu.Unlock()
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		s.tb.Fatalf("the server did not start: %v\n%s", err, s.log)
	}
	go io.Copy(io.Discard, out)
	_, base, ok := strings.Cut(strings.TrimSpace(line), "Gaugebook is at ")
	if !ok {
		s.tb.Fatalf("the server printed %q", line)
	}
	if s.base != "" && s.base != base {
		s.tb.Fatalf("the server came back at %s instead of %s", base, s.base)
	}
	s.base = base
}

// kill ends the server as a power cut would: SIGKILL.
func (s *service) kill() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.cmd == nil {
		return
	}
	s.cmd.Process.Kill()
	s.cmd.Wait()
	s.cmd = nil
}

// crash kills the server and starts it again on the same folder.
func (s *service) crash() {
	s.tb.Helper()
	s.kill()
	at, err := url.Parse(s.base)
	if err != nil {
		s.tb.Fatal(err)
	}
	s.start(at.Host)
}

// stop asks the server to end, as an operator does, and waits.
func (s *service) stop() {
	s.tb.Helper()
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.cmd.Process.Signal(os.Interrupt); err != nil {
		s.tb.Fatal(err)
	}
	if err := s.cmd.Wait(); err != nil {
		s.tb.Errorf("the server ended with %v", err)
	}
	s.cmd = nil
}
