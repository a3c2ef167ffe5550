package store

import (
	"slices"
	"sync"
	"sync/atomic"
	"time"
	"unsafe"

	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// On Linux the driver's own locks are pthread mutexes that it looks up by address
// in a table: SQLite takes one for every column it hands over, and they came to
// an eighth of a report and of an import. SQLite lets a program bring its own
// (SQLITE_CONFIG_MUTEX), as the driver does on the other systems. These too are
// recursive and have one owner at a time. An owner is a thread as SQLite knows it,
// which is a connection: only database/sql keeps two goroutines apart in it, so
// nothing of the driver's may be called outside sql.Conn.Raw.

// mutex is one lock; a thread of SQLite's may take it again while it has it.
type mutex struct {
	owner atomic.Int32 // libc.TLS.ID of the holder, from 1; 0 = nobody
	depth int32        // how often the holder took it
}

// take waits until nobody else holds it. That hardly ever happens here, as
// database/sql lets one goroutine at a time into a connection: so looking again
// is good enough, and two atomic steps a lock are half of what sync.Mutex needs.
func (m *mutex) take(id int32) {
	for wait := time.Microsecond; !m.owner.CompareAndSwap(0, id); wait = min(2*wait, time.Millisecond) {
		time.Sleep(wait)
	}
}

// SQLite holds a mutex by a pointer it never looks behind. Ours is a place in
// this table, from 1, so that no memory is shared with it. A connection needs
// three of them.
var mutexes struct {
	sync.Mutex
	all   [4096]mutex
	used  int32
	free  []uintptr
	fixed [16]uintptr // SQLITE_MUTEX_STATIC_...: one for ever
}

func mutexAlloc(_ *libc.TLS, kind int32) uintptr {
	mutexes.Lock()
	defer mutexes.Unlock()
	fixed := kind != sqlite3.SQLITE_MUTEX_FAST && kind != sqlite3.SQLITE_MUTEX_RECURSIVE
	if fixed {
		if int(kind) >= len(mutexes.fixed) {
			return 0
		}
		if p := mutexes.fixed[kind]; p != 0 {
			return p
		}
	}
	var p uintptr
	if n := len(mutexes.free); n > 0 {
		p, mutexes.free = mutexes.free[n-1], mutexes.free[:n-1]
	} else if mutexes.used++; int(mutexes.used) < len(mutexes.all) {
		p = uintptr(mutexes.used)
	} else {
		mutexes.used--
		return 0 // SQLite says that there is no memory
	}
	if fixed {
		mutexes.fixed[kind] = p
	}
	return p
}

func mutexFree(_ *libc.TLS, p uintptr) {
	mutexes.Lock()
	defer mutexes.Unlock()
	if !slices.Contains(mutexes.fixed[:], p) {
		mutexes.free = append(mutexes.free, p)
	}
}

func mutexEnter(t *libc.TLS, p uintptr) {
	m := &mutexes.all[p]
	if m.owner.Load() != t.ID {
		m.take(t.ID)
	}
	m.depth++
}

func mutexTry(t *libc.TLS, p uintptr) int32 {
	m := &mutexes.all[p]
	if m.owner.Load() != t.ID {
		if !m.owner.CompareAndSwap(0, t.ID) {
			return sqlite3.SQLITE_BUSY
		}
	}
	m.depth++
	return sqlite3.SQLITE_OK
}

func mutexLeave(t *libc.TLS, p uintptr) {
	m := &mutexes.all[p]
	if m.owner.Load() != t.ID {
		panic("store: SQLite leaves a lock that it does not have")
	}
	if m.depth--; m.depth == 0 {
		m.owner.Store(0)
	}
}

// The functions as the translated SQLite calls them; the memory must stay where
// it is, so it is of the package.
var mutexMethods = sqlite3.Tsqlite3_mutex_methods{
	FxMutexInit: *(*uintptr)(unsafe.Pointer(&struct{ f func(*libc.TLS) int32 }{mutexReady})),
	FxMutexEnd:  *(*uintptr)(unsafe.Pointer(&struct{ f func(*libc.TLS) int32 }{mutexReady})),
	FxMutexAlloc: *(*uintptr)(unsafe.Pointer(&struct {
		f func(*libc.TLS, int32) uintptr
	}{mutexAlloc})),
	FxMutexFree:  *(*uintptr)(unsafe.Pointer(&struct{ f func(*libc.TLS, uintptr) }{mutexFree})),
	FxMutexEnter: *(*uintptr)(unsafe.Pointer(&struct{ f func(*libc.TLS, uintptr) }{mutexEnter})),
	FxMutexTry: *(*uintptr)(unsafe.Pointer(&struct {
		f func(*libc.TLS, uintptr) int32
	}{mutexTry})),
	FxMutexLeave: *(*uintptr)(unsafe.Pointer(&struct{ f func(*libc.TLS, uintptr) }{mutexLeave})),
}

func mutexReady(*libc.TLS) int32 { return sqlite3.SQLITE_OK }

// bringMutexes gives SQLite these locks before the first file is opened. Where
// SQLite runs already it says no, and the driver's stay.
var bringMutexes = sync.OnceFunc(func() {
	t := libc.NewTLS()
	defer t.Close()
	args := libc.NewVaList(uintptr(unsafe.Pointer(&mutexMethods)))
	defer libc.Xfree(t, args)
	sqlite3.Xsqlite3_config(t, sqlite3.SQLITE_CONFIG_MUTEX, args)
})
