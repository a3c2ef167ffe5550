// Package analysis judges a dog's record: one model of each cue (package model) follows
// it sitting by sitting, its probabilities are held against the bars of the criteria,
// and what stands in the way, what would change it and what to do next follow from
// them. The judgement is a value, [Assessment], without a sentence in it; package say
// makes the words.
//
// Everything follows from (record, criteria, day). There is no clock, no file and no
// chance in it, so the same input gives the same bytes.
//
// How it goes: a scene joins sessions into sittings, a history is what counts of one
// cue, a follow is the forward pass of the filters over it, a night is what is known on
// one evening, and a bench puts an evening to the table of gates. No evening is
// filtered twice.
//
// The unit of clustering is the sitting: sessions of one dog with one handler at one
// place on one day whose starts lie at most 15 minutes apart, one from the next. Asks
// of a sitting resemble each other. Splitting a note in two, or writing one lesson as
// five sessions, therefore makes no evidence. Wherever a bar says "sessions" it counts
// sittings, and the first ask of a session is the first of its sitting.
//
// Left out of every figure: voided sessions, second scorings, trials inside a vet
// hold, and what came before a new baseline (the day after the last hold of the dog or
// cue, or the arrival for a later stay). A hold asked for less than the cue's target
// is counted apart: kept or broken, it says nothing of the target.
//
// Laws: the order of entry never matters, another dog's data never change this dog's
// figures, removing a vet hold's days equals never having logged them, and a clean ask
// never hurts.
package analysis
