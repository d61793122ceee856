//go:build !unix

package main

// Where modes and locks of files are other than on Unix, the folder's own rights
// protect it, and that one server runs is left to whoever starts it.
func private() {}

func lockFile(string) (release func() error, err error) { return func() error { return nil }, nil }
