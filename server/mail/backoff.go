package mail

import "time"

// MaxAttempts is how often a letter is tried before a person has to look. With
// Backoff it spans almost five days; RFC 5321 section 4.5.4.1 asks for a
// give-up time of at least four to five.
const MaxAttempts = 11

var waits = [...]time.Duration{
	time.Minute, 5 * time.Minute, 30 * time.Minute,
	2 * time.Hour, 6 * time.Hour, 12 * time.Hour, 24 * time.Hour,
}

// Backoff gives the wait after the attempt-th failed attempt, counted from 1:
// 1 min, 5 min, 30 min, 2 h, 6 h, 12 h and 24 h from then on. A number below 1
// counts as 1. It does not stop at MaxAttempts; the caller does.
func Backoff(attempt int) time.Duration {
	return waits[min(max(attempt, 1), len(waits))-1]
}
