//go:build unix

package cli

import (
	"os"
	"path/filepath"
	"testing"
)

// The packet is for the owner and whoever gets it from him: the folder and what
// is in it can be read by nobody else.
func TestPacketIsForItsMakerOnly(t *testing.T) {
	s := demoKennel(t)
	s.must("firstcue packet Tarn --out a/b")
	for name, mode := range map[string]os.FileMode{"a": 0o700, "a/b": 0o700, "a/b/packet.html": 0o600, "a/b/trials.csv": 0o600, "a/b/rechecks.ics": 0o600} {
		if info, err := os.Stat(filepath.Join(s.dir, name)); err != nil || info.Mode().Perm() != mode {
			t.Errorf("%s: %v, %v", name, info, err)
		}
	}
}
