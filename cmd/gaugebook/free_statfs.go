//go:build linux || darwin || freebsd

package main

import "syscall"

// freeBytes returns how much a program without special rights may still write
// where dir is.
func freeBytes(dir string) (int64, error) {
	var fs syscall.Statfs_t
	if err := syscall.Statfs(dir, &fs); err != nil {
		return 0, err
	}
	return int64(fs.Bavail) * int64(fs.Bsize), nil
}
