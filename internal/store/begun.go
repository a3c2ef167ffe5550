package store

import (
	"encoding/binary"
	"errors"
	"io"
	"io/fs"
	"os"
)

// Begun reports whether a store was begun at path: there is a file, and it is
// more than the very first command leaves that was killed before its work was
// done. That is an empty file, or one whose journal says that it had no pages
// when the work began; Open with Create makes a store of either. Whatever can't
// be looked at counts as a file that is there.
func Begun(path string) bool {
	info, err := os.Stat(path)
	if err != nil {
		return !errors.Is(err, fs.ErrNotExist)
	}
	if !info.Mode().IsRegular() {
		return true
	}
	if info.Size() == 0 {
		return false
	}
	f, err := os.Open(path + "-journal")
	if err != nil {
		return true
	}
	defer f.Close()
	// The header of a rollback journal, from SQLite's published file format: 8
	// bytes of magic, then 32-bit numbers, big-endian; the third of them is the
	// size of the database in pages before the transaction.
	head := make([]byte, 20)
	if _, err := io.ReadFull(f, head); err != nil {
		return true
	}
	return string(head[:8]) != "\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" || binary.BigEndian.Uint32(head[16:]) > 0
}
