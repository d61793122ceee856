package web

import (
	"container/list"
	"crypto/rand"
	"crypto/sha256"
	"net/netip"
	"strings"
	"sync"
	"time"

	"github.com/labstack/echo/v4"
	"golang.org/x/time/rate"
)

// mostBuckets is how many names a limiter remembers: some 10 MB. Beyond that it
// forgets who has not tried for longest.
const mostBuckets = 50_000

// Limiter is how often somebody may try something that can be guessed: signing
// in, or a record's code. It keeps a short hash of each name, so that what was
// posted takes no memory.
type Limiter struct {
	every time.Duration // an attempt comes back
	burst int           // attempts at once
	salt  [16]byte      // nobody can choose names that share a bucket
	now   func() time.Time

	mu      sync.Mutex
	buckets map[bucketKey]*list.Element
	latest  *list.List // of *bucket, the latest tried first
}

type bucketKey [16]byte

type bucket struct {
	key bucketKey
	*rate.Limiter
}

// NewLimiter returns a limiter of so many attempts a minute; 0 means the usual.
func NewLimiter(perMinute, usual int) *Limiter {
	if perMinute <= 0 {
		perMinute = usual
	}
	return NewSlowLimiter(perMinute, time.Minute/time.Duration(perMinute))
}

// NewSlowLimiter returns a limiter of so many attempts at once, of which one comes
// back in each span of time.
func NewSlowLimiter(burst int, every time.Duration) *Limiter {
	l := &Limiter{every: every, burst: burst, now: time.Now, buckets: map[bucketKey]*list.Element{},
		latest: list.New()}
	_, _ = rand.Read(l.salt[:]) // which never fails
	return l
}

// Allow counts one attempt for a name and reports whether it may go on.
func (l *Limiter) Allow(name string) bool { return l.AllowTimes(name, 1) }

// AllowTimes is Allow for a name that may try so many times as often as others:
// one that several addresses share.
func (l *Limiter) AllowTimes(name string, times int) bool {
	key := l.keyOf(name)
	l.mu.Lock()
	defer l.mu.Unlock()
	at, ok := l.buckets[key]
	if !ok {
		if l.latest.Len() >= mostBuckets {
			oldest := l.latest.Back()
			delete(l.buckets, l.latest.Remove(oldest).(*bucket).key)
		}
		at = l.latest.PushFront(&bucket{key, rate.NewLimiter(rate.Every(l.every/time.Duration(times)),
			l.burst*times)})
		l.buckets[key] = at
	}
	l.latest.MoveToFront(at)
	return at.Value.(*bucket).AllowN(l.now(), 1)
}

// Forget gives a name all its attempts back, after the right one.
func (l *Limiter) Forget(name string) {
	key := l.keyOf(name)
	l.mu.Lock()
	defer l.mu.Unlock()
	if at, ok := l.buckets[key]; ok {
		l.latest.Remove(at)
		delete(l.buckets, key)
	}
}

func (l *Limiter) keyOf(name string) bucketKey {
	sum := sha256.Sum256(append(l.salt[:], strings.ToLower(name[:min(len(name), longestName)])...))
	return bucketKey(sum[:])
}

// longestName is more than an address or an e-mail address has.
const longestName = 512

// AddressOf names where a request comes from, as limits count it: the address,
// or of IPv6 the /64 that one household or server has to itself.
func AddressOf(c echo.Context) string {
	ip, err := netip.ParseAddr(c.RealIP())
	if err != nil {
		return "address unknown"
	}
	ip = ip.Unmap().WithZone("")
	if ip.Is6() {
		net, _ := ip.Prefix(64) // 64 bits are there
		return "address " + net.String()
	}
	return "address " + ip.String()
}
