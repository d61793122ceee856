package main

import (
	"os/exec"
	"testing"
)

// tool runs an independent program; one that is not there fails the test.
func tool(tb testing.TB, name string, args ...string) string {
	tb.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		tb.Fatalf("%s %v: %v\n%s", name, args, err, out)
	}
	return string(out)
}
