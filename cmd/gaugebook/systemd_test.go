package main

import (
	"os/exec"
	"strings"
	"testing"
)

// The unit is one that systemd takes without a word, and exposes little of the
// machine by systemd's own judgement: at most 2.0 of 10.
func TestSystemdUnit(t *testing.T) {
	t.Parallel()
	for name, args := range map[string][]string{
		"behind a proxy": nil, "own https": {"--low-ports", "--may-write", "/srv/backups"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			args := append([]string{"systemd", "--program", "/bin/true"}, args...)
			got := command(t, nil, args...)
			if got.code != exitClear {
				t.Fatal(got.err)
			}
			unit := write(t, t.TempDir(), "gaugebook.service", got.out)
			for _, check := range [][]string{{"verify", unit}, {"security", "--offline=yes", "--threshold=20", unit}} {
				out, err := exec.Command("systemd-analyze", check...).CombinedOutput()
				if err != nil || check[0] == "verify" && strings.Contains(string(out), unit) {
					t.Errorf("%v: %v\n%s", check, err, out)
				}
			}
			if strings.Contains(got.out, "{{") || strings.Contains(got.out, "ReadWritePaths=/srv/backups") !=
				(name == "own https") {
				t.Errorf("%s", got.out)
			}
		})
	}
	for _, args := range [][]string{{"--program", "gaugebook"}, {"--settings", "/etc/a b"},
		{"--may-write", "/a\nUser=root"}} {
		if got := command(t, nil, append([]string{"systemd"}, args...)...); got.code != exitBad {
			t.Errorf("%q: exit %d", args, got.code)
		}
	}
}
