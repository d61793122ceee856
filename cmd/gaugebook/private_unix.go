//go:build unix

package main

import (
	"errors"
	"fmt"
	"os"
	"syscall"
)

// private has whatever this process makes be readable by its user alone: the
// register and its two companions are made by SQLite, with the mode that is left
// to them.
func private() { syscall.Umask(0o077) }

// lockFile takes a lock that lasts until release is called or the process ends,
// however it ends. The file stays: removed, it could be locked twice.
func lockFile(name string) (release func() error, err error) {
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		err = errLocked
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", name, err), f.Close())
	}
	return f.Close, nil
}
