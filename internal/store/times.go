package store

import (
	"fmt"
	"time"

	"firstcue/internal/training"
)

// clock writes a time as the store keeps it: RFC 3339 with the offset. Offsets
// with seconds (local mean time of old dates) can't be written so and lose
// their seconds; the instant stays.
func clock(t time.Time) string {
	name, off := t.Zone()
	if off%60 != 0 {
		t = t.In(time.FixedZone(name, off-off%60))
	}
	return t.Format(time.RFC3339Nano)
}

// parseClock reads what clock wrote. The location is a plain offset and never
// the zone of this machine, so that the same store reads the same everywhere.
func parseClock(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		return time.Time{}, fmt.Errorf("time %q: %w", s, err)
	}
	return offsetOnly(t), nil
}

func offsetOnly(t time.Time) time.Time {
	_, off := t.Zone()
	if off == 0 {
		return t.UTC()
	}
	return t.In(time.FixedZone("", off))
}

func num(n training.Num) any {
	if !n.Known {
		return nil
	}
	return n.V
}

func day(d training.Day) any {
	if d == 0 {
		return nil
	}
	return int64(d)
}

func bit(b bool) any {
	if b {
		return int64(1)
	}
	return int64(0)
}
