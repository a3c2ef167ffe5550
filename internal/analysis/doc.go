// Package analysis judges a dog's record: it counts first asks, puts intervals
// round the counts, holds the figures against the bars of the criteria, and
// says in a trainer's words what stands in the way and what would change it.
//
// Everything follows from (record, criteria, day). There is no clock, no file
// and no chance in it: the forecast's random numbers are seeded from dog, cue
// and day, so the same input gives the same bytes.
//
// The unit of clustering is the sitting: sessions of one dog with one handler
// at one place on one day whose starts lie at most 15 minutes apart, one from
// the next. Trials of a sitting resemble each other. Splitting a note in two, or
// writing one lesson as five sessions, therefore makes no evidence. Wherever a
// bar says "sessions" it counts sittings; only cold trials go by the session.
//
// Left out of every figure: voided sessions, second scorings, trials inside a
// vet hold, and what came before a new baseline (the day after the last hold of
// the dog or cue, or the arrival for a later stay).
package analysis
