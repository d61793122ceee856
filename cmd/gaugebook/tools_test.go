package main

import (
	"bytes"
	"os/exec"
	"testing"
)

// tool runs an independent program; one that is not there fails the test.
func tool(tb testing.TB, name string, args ...string) string {
	tb.Helper()
	var out, errs bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Run(); err != nil {
		tb.Fatalf("%s %v: %v\n%s%s", name, args, err, out.String(), errs.String())
	}
	return out.String()
}
