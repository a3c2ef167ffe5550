package note

import (
	"strings"
	"testing"
)

func BenchmarkParse(b *testing.B) {
	text := []byte(head + "heel 3:20 2- @6\nsit 3+\ndown - @9 +1.6\ncome whistle +0.9>4.8, +1.1>5.2\nstay 2:00 +, - 0:45 @6\ndown 8/10\n> hot\n")
	o := options()
	for b.Loop() {
		if r := Parse(text, o); len(r.Problems) > 0 {
			b.Fatal(r.Problems)
		}
	}
}

// The largest note that is read at all: as many trials as there may be, and
// remarks up to a mebibyte.
func BenchmarkParseLargest(b *testing.B) {
	line := "down - @9 +1.6, +1.8>5.1, x:sat help:lure +\n"
	trials := head + strings.Repeat(line, maxTrials/3)
	remark := "> " + strings.Repeat("hot ", 20) + "\n"
	text := []byte(trials + strings.Repeat(remark, (maxNote-len(trials))/len(remark)))
	o := options()
	for b.Loop() {
		if r := Parse(text, o); len(r.Problems) > 0 {
			b.Fatal(r.Problems)
		}
	}
}
