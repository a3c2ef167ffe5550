package stats

import (
	"errors"
	"fmt"
	"math"
)

// ErrInput is matched by every error that says an argument is impossible:
// not a number, infinite, negative, more successes than trials, slices of
// different lengths, too many values for the method, or none at all.
var ErrInput = errors.New("impossible input")

// inputError names the function, the argument and what is wrong with it.
type inputError string

func (e inputError) Error() string        { return string(e) }
func (e inputError) Is(target error) bool { return target == ErrInput }

func bad(fn, arg, format string, a ...any) error {
	return inputError(fn + ": " + arg + " " + fmt.Sprintf(format, a...))
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// maxCount bounds every count: below it a float64 holds each whole number
// exactly and products of two counts stay finite.
const maxCount = 1e15

func checkLevel(fn string, level float64) error {
	if !(level > 0 && level < 1) {
		return bad(fn, "level", "must lie between 0 and 1, both excluded; it is %v", level)
	}
	return nil
}

// checkShare refuses x of n unless 0 <= x <= n.
func checkShare(fn, xName, nName string, x, n float64) error {
	switch {
	case !finite(x) || x < 0:
		return bad(fn, xName, "must be a finite number of at least 0; it is %v", x)
	case !(n >= 0 && n <= maxCount):
		return bad(fn, nName, "must lie between 0 and %v; it is %v", maxCount, n)
	case x > n:
		return bad(fn, xName, "is more than %s: %v of %v", nName, x, n)
	}
	return nil
}

func checkCount(fn, name string, x float64) error {
	if !(x >= 0 && x <= maxCount) || x != math.Trunc(x) {
		return bad(fn, name, "must be a whole number between 0 and %v; it is %v", maxCount, x)
	}
	return nil
}

// checkSessions refuses unequal lengths, counts that are not whole and no trials.
func checkSessions(fn string, successes, trials []float64) error {
	if len(successes) != len(trials) {
		return bad(fn, "trials", "has %d values and successes %d", len(trials), len(successes))
	}
	total := 0.0
	for i, x := range successes {
		if err := checkCount(fn, "successes", x); err != nil {
			return err
		}
		if err := checkCount(fn, "trials", trials[i]); err != nil {
			return err
		}
		if err := checkShare(fn, "successes", "trials", x, trials[i]); err != nil {
			return err
		}
		total += trials[i]
	}
	if total == 0 || total > maxCount {
		return bad(fn, "trials", "must sum to more than 0 and at most %v; they sum to %v", maxCount, total)
	}
	return nil
}

func checkFinite(fn, name string, v []float64) error {
	for i, x := range v {
		if !(math.Abs(x) <= 1e150) {
			return bad(fn, name, "value %d must be finite and within 1e150; it is %v", i+1, x)
		}
	}
	return nil
}
