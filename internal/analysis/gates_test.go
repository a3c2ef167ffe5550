package analysis

import (
	"fmt"
	"testing"

	"firstcue/internal/training"
)

// goodStay is an invented dog that is ready for everybody everywhere: days of
// three sessions, people and places in turn, with n first asks a session and
// the given misses per session (by index).
func goodStay(days, n int, misses map[int]int) training.Record {
	r := record()
	people, places := []string{"Maren", "Ivo", "Maren", "Owner"}, []string{"yard", "barn", "market"}
	k := 0
	for d := 1; d <= days; d++ {
		for s := range 3 {
			m := misses[k]
			r.Sessions = append(r.Sessions, at(d, fmt.Sprintf("%02d:00", 8+3*s), people[k%len(people)], places[(k/2)%len(places)], many("sit", n-m, m)...))
			k++
		}
	}
	r.Dog.Main = "Maren"
	return r
}

func sit(r training.Record, n int) CueAssessment {
	return cueOf(Assess(r, barsOf(r), day1+training.Day(n-1)), "sit")
}

// A dog that is ready for everybody everywhere is ready on the second good evening
// with enough behind it, and says on which leash.
func TestAGoodStayIsReady(t *testing.T) {
	r := goodStay(8, 5, nil)
	for i := range r.Sessions {
		r.Sessions[i].Leash = "long line"
	}
	c := sit(r, 8)
	if c.Verdict != Ready || c.ReadyOn != "long line" {
		t.Errorf("%s on %q: %+v", c.Verdict, c.ReadyOn, c.Gates)
	}
	n := 0
	for _, p := range c.Course {
		if p.Verdict == Ready {
			n++
		}
	}
	if n == 0 || n == len(c.Course) || c.Course[0].Verdict != NotProven {
		t.Errorf("ready on %d of %d evenings", n, len(c.Course))
	}
}
