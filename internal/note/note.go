// Package note turns the text of a session note into sessions and trials, and
// a session back into text. The note is what a trainer types on a phone or
// says into one; docs/notes.md describes it with its grammar.
//
// The package decides nothing about a dog. It reads what was written, works out
// times that a clock in the note gives, and refuses what has two readings.
package note

import (
	"reflect"
	"slices"
	"strings"
	"time"

	"firstcue/internal/training"
)

// Limits of what is read. A note is a page of text, not a file of data.
const (
	maxNote = 1 << 20 // bytes
	maxLine = 10_000  // characters

	maxTrials = 1000 // of all sessions
)

// Options says how to read a note.
type Options struct {
	// Name is the file name used in messages; "note" if empty.
	Name string
	// Kennel is what may be named.
	Kennel training.Kennel
	// Now is where the future starts. Its Location is the kennel's zone, in
	// which a start without an offset is read.
	Now time.Time
	// Written is the day of the note, from which "today", "friday" and a time alone
	// count; Now if zero. For a file it is the day in its name or of its last
	// change. Reading an old note again needs the same day, or "today" would move.
	Written time.Time
	// Defaults are context lines that flags supplied, such as
	// "dog: Pip; handler: Maren", in force before line 1.
	Defaults string
	// AllowNew makes a name not yet known part of Result.New instead of a problem.
	AllowNew bool
	// DespiteHold accepts trials inside a vet hold with a warning. They are left
	// out of every figure.
	DespiteHold bool
	// Limit gives the longest time in seconds to an answer of a dog to a cue; a
	// later one is warned of, as it is no first-cue answer. nil = no limit.
	Limit func(dog, cue string) training.Num
	// Ask says what to write when a session lacks a key; nil asks for a context
	// line above. Command is what reads the note, for hints; "log" if empty.
	Ask     func(key string) string
	Command string
}

func (o Options) command() string {
	if o.Command == "" {
		return "log"
	}
	return o.Command
}

// Result is what a note says.
type Result struct {
	// Sessions are in the order of the note, nil whenever there are Problems.
	Sessions []training.Session
	Problems []Problem
	Warnings []Problem
	New      []Name // each once, in order of first mention
	// Relative: a start was counted from Options.Written, such as "today 9:10" or
	// a time alone, so it depends on the day of the note.
	Relative bool
}

// Name is something a note names that the kennel does not know yet.
type Name struct {
	Kind    string // dog, handler, place, device or cue
	Name    string
	CueKind training.Kind // for a cue: always a response
}

// Parse reads a note. It reports every problem it can find at once, and never
// panics. A note with a problem gives no sessions at all: half a session would
// be a wrong record.
func Parse(text []byte, o Options) Result {
	if o.Name == "" {
		o.Name = "note"
	}
	if o.Written.IsZero() {
		o.Written = o.Now
	}
	if !o.Now.IsZero() {
		o.Written = o.Written.In(o.Now.Location())
	}
	p := &parser{o: o, k: copyKennel(o.Kennel), parts: map[string]int{}}
	p.read(text)
	inOrder(p.res.Problems)
	inOrder(p.res.Warnings)
	if len(p.res.Problems) > 0 {
		p.res.Sessions = nil
	}
	return p.res
}

// TextOf returns the text by which a stored session can be read again: its note
// as written with what it carries, when that still gives the same trials, and
// else its canonical text. The notation grew stricter over time; a note keeps the
// meaning that it was stored with. asWritten is false for the canonical text.
func TextOf(s training.Session, o Options) (text string, asWritten bool) {
	if s.Note == "" && s.Carried == "" {
		return Format(s), false
	}
	text = strings.TrimPrefix(s.Carried+"\n"+s.Note, "\n")
	o.DespiteHold = true
	r := Parse([]byte(text), o)
	if len(r.Sessions) == 1 && slices.EqualFunc(s.Trials, r.Sessions[0].Trials, sameTrial) {
		return text, true
	}
	plain := Format(s)
	if len(Parse([]byte(plain), o).Problems) > 0 {
		return text, true // what is wrong is not the notation: a name that is gone, say
	}
	return plain, false
}

// sameTrial compares what two trials say, whatever the spelling of their marks.
func sameTrial(a, b training.Trial) bool {
	a.Marks, b.Marks, a.Line, b.Line = "", "", 0, 0
	return reflect.DeepEqual(a, b)
}
