//go:build !linux

package store

// bringMutexes is for Linux: elsewhere the driver has quick ones.
func bringMutexes() {}
