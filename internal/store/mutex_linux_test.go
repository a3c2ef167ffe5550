package store

import (
	"sync"
	"testing"

	"modernc.org/libc"
)

// What SQLite asks of a mutex: one holder at a time, who may take it again, the
// same one for each fixed kind, none that is in use given away.
func TestMutex(t *testing.T) {
	const fast, recursive, fixed = 0, 1, 2
	one, two := libc.NewTLS(), libc.NewTLS()
	defer one.Close()
	defer two.Close()
	if a, b := mutexAlloc(one, fixed), mutexAlloc(two, fixed); a != b || a == 0 {
		t.Errorf("a fixed mutex is %d and %d", a, b)
	}
	p, q := mutexAlloc(one, recursive), mutexAlloc(one, fast)
	if p == q || p == 0 || q == 0 {
		t.Fatalf("two mutexes are %d and %d", p, q)
	}
	mutexEnter(one, p)
	mutexEnter(one, p)
	if mutexTry(two, p) == 0 {
		t.Error("taken by two")
	}
	mutexLeave(one, p)
	if mutexTry(two, p) == 0 {
		t.Error("taken by two while the first holds it once more")
	}
	mutexLeave(one, p)
	if mutexTry(two, p) != 0 {
		t.Error("nobody holds it, and it could not be taken")
	}
	mutexLeave(two, p)

	total := 0
	var all sync.WaitGroup
	for range 8 {
		all.Add(1)
		go func() {
			defer all.Done()
			tls := libc.NewTLS()
			defer tls.Close()
			for range 2000 {
				mutexEnter(tls, q)
				total++
				mutexLeave(tls, q)
			}
		}()
	}
	all.Wait()
	if total != 16000 {
		t.Errorf("counted to %d of 16000", total)
	}
	mutexFree(one, q)
	if r := mutexAlloc(one, fast); r != q {
		t.Errorf("%d was given back, and %d given away", q, r)
	}
	mutexFree(one, q)
	mutexFree(one, p)
	s := openAt(t, t.TempDir()+"/kennel.db", "laptop")
	defer s.Close()
	mutexes.Lock()
	inUse := int(mutexes.used) - len(mutexes.free)
	mutexes.Unlock()
	if inUse < 3 {
		t.Errorf("SQLite uses %d of them", inUse)
	}
}
