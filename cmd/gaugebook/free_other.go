//go:build !(linux || darwin || freebsd)

package main

import "math"

// Not told by this system: as good as endless.
func freeBytes(string) (int64, error) { return math.MaxInt64, nil }
