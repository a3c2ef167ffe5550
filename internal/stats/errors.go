package stats

import (
	"errors"
	"fmt"
	"math"
	"strconv"
)

// ErrInput is matched by every error that says an argument is impossible:
// not a number, infinite, negative, more successes than trials, slices of
// different lengths, or nothing at all.
var ErrInput = errors.New("impossible input")

// ErrEmpty is matched, together with ErrInput, when there is no observation.
var ErrEmpty = errors.New("no data")

// ErrTooLarge is matched, together with ErrInput, when the input is valid but
// the method would need more time or memory than it is allowed.
var ErrTooLarge = errors.New("too large for this method")

// ErrSeparated is returned by Logistic when a direction of the coefficients
// has no finite maximum: all answers alike, or a predictor that parts yes from
// no perfectly (or all but perfectly).
var ErrSeparated = errors.New("not estimable: the predictors separate yes from no")

// ErrNotIdentified is returned by Logistic when the columns of the design are
// linearly dependent, for example a predictor that never changes.
var ErrNotIdentified = errors.New("not identified: the predictors do not vary enough")

// ErrNoConvergence is returned when an iteration did not settle.
var ErrNoConvergence = errors.New("the iteration did not converge")

// InputError says which argument of which function is impossible, and why.
// errors.Is(err, ErrInput) holds for every InputError.
type InputError struct {
	Func string // function, as exported
	Arg  string // argument name
	Why  string // what is wrong, in words
	kind error  // nil, ErrEmpty or ErrTooLarge
}

func (e *InputError) Error() string {
	return fmt.Sprintf("%s: %s %s", e.Func, e.Arg, e.Why)
}

// Is reports whether the error is of the kind asked for.
func (e *InputError) Is(target error) bool {
	return target == ErrInput || e.kind != nil && target == e.kind
}

func bad(fn, arg, format string, a ...any) error {
	return &InputError{Func: fn, Arg: arg, Why: fmt.Sprintf(format, a...)}
}

func empty(fn, arg string) error {
	return &InputError{Func: fn, Arg: arg, Why: "is empty", kind: ErrEmpty}
}

func tooLarge(fn, arg, format string, a ...any) error {
	return &InputError{Func: fn, Arg: arg, Why: fmt.Sprintf(format, a...), kind: ErrTooLarge}
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func isWhole(x float64) bool { return x == math.Trunc(x) }

// maxCount bounds every count: below it a float64 holds each whole number
// exactly and products of two counts stay finite.
const maxCount = 1e15

// minCount bounds fractional counts of clusters from below, so that their
// squares do not vanish.
const minCount = 1e-60

func checkLevel(fn string, level float64) error {
	if !(level > 0 && level < 1) {
		return bad(fn, "level", "must lie between 0 and 1, both excluded; it is %v", level)
	}
	return nil
}

func checkProportion(fn, xName, nName string, x, n float64) error {
	switch {
	case !finite(x) || x < 0:
		return bad(fn, xName, "must be a finite number of at least 0; it is %v", x)
	case !finite(n) || n < 0:
		return bad(fn, nName, "must be a finite number of at least 0; it is %v", n)
	case n > maxCount:
		return tooLarge(fn, nName, "is above %v", maxCount)
	case x > n:
		return bad(fn, xName, "is more than %s: %v of %v", nName, x, n)
	}
	return nil
}

func checkCount(fn, name string, x float64) error {
	switch {
	case !finite(x) || x < 0 || !isWhole(x):
		return bad(fn, name, "must be a whole number of at least 0; it is %v", x)
	case x > maxCount:
		return tooLarge(fn, name, "is above %v", maxCount)
	}
	return nil
}

// checkClusters refuses unequal lengths, impossible counts and no trials.
func checkClusters(fn string, x, n []float64) error {
	if len(x) != len(n) {
		return bad(fn, "trials", "has %d values and successes %d", len(n), len(x))
	}
	total := 0.0
	for i := range x {
		if err := checkProportion(fn, "successes", "trials", x[i], n[i]); err != nil {
			return err
		}
		if n[i] > 0 && n[i] < minCount || x[i] > 0 && x[i] < minCount {
			return tooLarge(fn, "trials", "of value %d are above 0 and below %v", i+1, minCount)
		}
		total += n[i]
	}
	if total == 0 {
		return empty(fn, "trials")
	}
	if total > maxCount {
		return tooLarge(fn, "trials", "sum to more than %v", maxCount)
	}
	return nil
}

func checkFinite(fn, name string, v []float64) error {
	for i, x := range v {
		if !finite(x) {
			return bad(fn, name, "value %d is %v", i+1, x)
		}
		if math.Abs(x) > 1e150 {
			return tooLarge(fn, name, "value %d is beyond 1e150", i+1)
		}
	}
	return nil
}

// Number is a figure that may be absent: a median that was not reached, an
// intraclass correlation of a single session. The zero Number is absent.
// It is written to JSON as null when absent.
type Number struct {
	V  float64 // the figure; 0 when absent, may be +Inf where a function says so
	OK bool    // whether there is a figure
}

// Some is a Number that is present.
func Some(v float64) Number { return Number{V: v, OK: true} }

// MarshalJSON writes null for an absent figure and "Inf" or "-Inf" for an
// infinite one, because JSON has no infinity.
func (n Number) MarshalJSON() ([]byte, error) {
	switch {
	case !n.OK || math.IsNaN(n.V):
		return []byte("null"), nil
	case math.IsInf(n.V, 1):
		return []byte(`"Inf"`), nil
	case math.IsInf(n.V, -1):
		return []byte(`"-Inf"`), nil
	}
	return strconv.AppendFloat(nil, n.V, 'g', -1, 64), nil
}

// Interval is a lower and an upper limit.
type Interval struct{ Lower, Upper float64 }
