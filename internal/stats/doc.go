// Package stats holds the arithmetic of firstcue: numbers in, numbers out. It
// knows nothing of dogs.
//
// Every function says what it computes, from which source, and what it does at
// the edges. Impossible input (not a number, infinite, negative, more
// successes than trials, nothing at all) is an error for which
// errors.Is(err, ErrInput) holds; no function panics on data, and no result is
// ever NaN: a figure that may be absent is a Number.
package stats
