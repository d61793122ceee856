package web

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/labstack/echo/v4"
)

func TestLimiterForgetsTheOldest(t *testing.T) {
	l := NewLimiter(1, 1)
	l.now = func() time.Time { return time.Unix(0, 0) }
	l.Allow("first")
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	for i := range 3 * mostBuckets {
		l.Allow(fmt.Sprint(i, strings.Repeat("x", 200)))
		if i%1000 == 0 {
			l.Allow("kept")
		}
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	if l.latest.Len() != mostBuckets {
		t.Errorf("remembers %d names, not %d", l.latest.Len(), mostBuckets)
	}
	if grown := int64(after.HeapAlloc) - int64(before.HeapAlloc); grown > 32<<20 {
		t.Errorf("%d names take %d MB", l.latest.Len(), grown>>20)
	}
	if l.Allow("kept") || !l.Allow("first") {
		t.Error("a name in use was forgotten, or one long gone was not")
	}
	runtime.KeepAlive(l)
}

func TestLimiterCountsByName(t *testing.T) {
	now := time.Unix(0, 0)
	l := NewLimiter(0, 2)
	l.now = func() time.Time { return now }
	for i, want := range []bool{true, true, false} {
		if got := l.Allow("Name"); got != want {
			t.Errorf("attempt %d: %v", i, got)
		}
	}
	if !l.Allow("other") || l.Allow("NAME") {
		t.Error("another name is not free, or another case is")
	}
	now = now.Add(30 * time.Second)
	if !l.Allow("name") || l.Allow("name") {
		t.Error("half a minute is not one attempt of two a minute")
	}
	for i := range 6 {
		if !l.AllowTimes("shared", 3) {
			t.Errorf("attempt %d of three times two was refused", i)
		}
	}
	if l.AllowTimes("shared", 3) {
		t.Error("a seventh is allowed")
	}
	l.Forget("SHARED")
	l.Forget("never tried")
	if !l.AllowTimes("shared", 3) {
		t.Error("attempts were not given back")
	}
	slow := NewSlowLimiter(2, 3*time.Minute)
	slow.now = l.now
	slow.Allow("name")
	if !slow.Allow("name") || slow.Allow("name") {
		t.Error("not two at once")
	}
	now = now.Add(3 * time.Minute)
	if !slow.Allow("name") || slow.Allow("name") {
		t.Error("not one in three minutes")
	}
}

func TestAddressOf(t *testing.T) {
	e := echo.New()
	e.IPExtractor = echo.ExtractIPDirect()
	for from, want := range map[string]string{
		"192.0.2.7:1":              "address 192.0.2.7",
		"[2001:db8:1:2:3:4:5:6]:1": "address 2001:db8:1:2::/64",
		"[2001:db8:1:2:ffff::1]:1": "address 2001:db8:1:2::/64",
		"[::ffff:192.0.2.7]:1":     "address 192.0.2.7",
		"[fe80::1%eth0]:1":         "address fe80::/64",
		"nonsense":                 "address unknown",
	} {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.RemoteAddr = from
		if got := AddressOf(e.NewContext(r, nil)); got != want {
			t.Errorf("%s: %q, want %q", from, got, want)
		}
	}
}
