//go:build unix

package live

import (
	"os"
	"syscall"
)

// lock takes a lock that ends with the process.
func lock(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) }

// syncDir puts a new or renamed entry of a folder on the disk.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}

// Resized is the signal of a terminal that changed its size, Ended those of one
// that went away or was told to stop.
var (
	Resized = []os.Signal{syscall.SIGWINCH}
	Ended   = []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP}
)
