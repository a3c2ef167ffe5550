package main

import (
	"bytes"
	"context"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"firstcue/internal/sheet"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

// TestSheetAndStoreAgree: the sheet, read as an import reads it, says what the
// store says; nothing of it needs a map, a flag or a warning.
func TestSheetAndStoreAgree(t *testing.T) {
	ctx := context.Background()
	k := kennel{dogs: 8, here: 3, seed: 7}
	path := filepath.Join(t.TempDir(), "lists.db")
	if err := k.make(ctx, "", path, ""); err != nil {
		t.Fatal(err)
	}
	s, err := store.Open(ctx, path, store.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	lists, err := s.Kennel(ctx)
	if err != nil {
		t.Fatal(err)
	}

	var text bytes.Buffer
	if err := k.writeCSV(&text); err != nil {
		t.Fatal(err)
	}
	r, l, err := sheet.Open(&text, sheet.Wishes{})
	if err != nil {
		t.Fatal(err)
	}
	cols, err := sheet.Mapping{}.Find(l.Header)
	if err != nil || len(cols.Unused) > 0 {
		t.Fatal(err, cols.Unused)
	}
	l.Dates, l.Decimal = sheet.YMD, '.'
	var want, got []training.Session
	for v := range k.sessions() {
		want = append(want, v)
	}
	res, err := sheet.Read(r, sheet.Options{Layout: l, Columns: cols, Kennel: lists, Now: lastDay.Add(48 * time.Hour)},
		func(v training.Session) error { got = append(got, v); return nil },
		func(x sheet.Rejected) error { t.Errorf("line %d: %s", x.Line, x.Reason); return nil })
	if err != nil || len(res.Warnings) > 0 || res.Trials != k.dogs*400 {
		t.Fatal(err, res)
	}
	if len(got) != len(want) {
		t.Fatalf("%d sessions in the sheet, %d in the store", len(got), len(want))
	}
	for i := range got {
		if !got[i].Start.Equal(want[i].Start) {
			t.Fatalf("start %v, want %v", got[i].Start, want[i].Start)
		}
		got[i].Start = want[i].Start
		if !reflect.DeepEqual(got[i], want[i]) {
			for j := range got[i].Trials {
				if !reflect.DeepEqual(got[i].Trials[j], want[i].Trials[j]) {
					t.Errorf("the sheet says\n%+v\nthe store\n%+v", got[i].Trials[j], want[i].Trials[j])
				}
			}
			t.Fatalf("session %d differs; notes:\n%s\n%s", i, got[i].Note, want[i].Note)
		}
	}
}

// TestBoardedDogsAreTheSame: a larger kennel has more dogs that went home, and
// the same dogs here.
func TestBoardedDogsAreTheSame(t *testing.T) {
	here := func(dogs int) (out []training.Session) {
		k := kennel{dogs: dogs, here: 3, seed: 7}
		for v := range k.sessions() {
			out = append(out, v)
		}
		return out[len(out)-3*perDog:]
	}
	if small, large := here(5), here(50); !reflect.DeepEqual(small, large) {
		t.Error("the dogs that are here differ with the size of the kennel")
	}
	k := kennel{dogs: 50, here: 3}
	n := 0
	for _, d := range k.lists().Dogs {
		if b, ok := d.Boarding(training.DayOf(lastDay)); ok && b.Home == 0 {
			n++
		}
	}
	if n != k.here {
		t.Errorf("%d dogs are here, want %d", n, k.here)
	}
	seen := map[string]bool{}
	for d := range 25_000 {
		if key := strings.ToLower(name(d)); seen[key] {
			t.Fatalf("two dogs are called %s", key)
		} else {
			seen[key] = true
		}
	}
}
