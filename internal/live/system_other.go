//go:build !unix

package live

import "os"

func lock(*os.File) error { return nil }

func syncDir(string) error { return nil }

// Resized is empty where no signal tells: the screen is measured at every turn.
var (
	Resized []os.Signal
	Ended   = []os.Signal{os.Interrupt}
)
