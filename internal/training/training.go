// Package training holds the words of the trade as plain values: dog, boarding,
// hold of training, handler, place, cue, session, trial, correction. It imports
// nothing of this program, and every other package speaks in its types: note
// makes them from text, store keeps them, analysis judges them, report prints
// what came of it.
//
// The values carry the names that they have in JSON, with the unit where there
// is one (latencySeconds): these names are published and stay.
//
// Units are fixed: seconds for every duration, metres for every distance, a
// dial position (no unit, meaningful for one device only) for every level.
package training

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode"
)

// Num is a number that may be unknown. The zero value is unknown, which is not
// the same as 0: a cue with no measured latency has no latency, and a dog
// trained without a collar has no level. Unknown is null in JSON.
type Num struct {
	V     float64
	Known bool
}

// Known returns the number v as a known Num.
func Known(v float64) Num { return Num{V: v, Known: true} }

// MarshalJSON writes the number, or null when it is unknown or JSON has no
// spelling for it.
func (n Num) MarshalJSON() ([]byte, error) {
	if !n.Known || math.IsNaN(n.V) || math.IsInf(n.V, 0) {
		return []byte("null"), nil
	}
	return json.Marshal(n.V)
}

// UnmarshalJSON reads a number or null.
func (n *Num) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*n = Num{}
		return nil
	}
	n.Known = true
	return json.Unmarshal(b, &n.V)
}

// Day is a calendar date, counted in days from 1 January 1970. Zero means no
// day: no dog was trained on that date. Days compare and subtract as integers,
// so a day of daylight saving has no 25th hour to trip over.
type Day int

// DayOf returns the date of t in t's own zone: a session at 23:50 belongs to
// the evening the trainer had, whatever the date is in Greenwich.
func DayOf(t time.Time) Day {
	y, m, d := t.Date()
	return Date(y, m, d)
}

// Date returns the day of a year, month and day of month.
func Date(year int, month time.Month, day int) Day {
	return Day(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// ParseDay reads YYYY-MM-DD and nothing else; an impossible date is an error.
func ParseDay(s string) (Day, error) {
	t, err := time.Parse("2006-01-02", s)
	if err != nil {
		return 0, fmt.Errorf("%q is not a date: write it as 2026-03-04", s)
	}
	return DayOf(t), nil
}

// Time returns midnight at the start of the day in loc.
func (d Day) Time(loc *time.Location) time.Time {
	t := time.Unix(int64(d)*86400, 0).UTC()
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, loc)
}

// String returns YYYY-MM-DD, or "" for no day.
func (d Day) String() string {
	if d == 0 {
		return ""
	}
	return d.Time(time.UTC).Format("2006-01-02")
}

// MarshalJSON writes "YYYY-MM-DD", or null for no day.
func (d Day) MarshalJSON() ([]byte, error) {
	if d == 0 {
		return []byte("null"), nil
	}
	return json.Marshal(d.String())
}

// UnmarshalJSON reads "YYYY-MM-DD" or null.
func (d *Day) UnmarshalJSON(b []byte) error {
	var s *string
	if err := json.Unmarshal(b, &s); err != nil {
		return err
	}
	*d = 0
	if s == nil || *s == "" {
		return nil
	}
	v, err := ParseDay(*s)
	*d = v
	return err
}

// Key returns the form in which two spellings of a name are the same: folded
// case, one blank between words, no blanks around. "Back  Field" and "back
// field" have one key.
func Key(name string) string {
	if spaced(name) {
		return strings.ToLower(name)
	}
	return strings.ToLower(strings.Join(strings.FieldsFunc(name, unicode.IsSpace), " "))
}

// spaced reports that the blanks of a name are those of its key, as in most
// names that are looked up: only ASCII, single blanks inside. Names are compared
// so often that taking them apart each time was a fifth of what judging a dog
// allocates.
func spaced(name string) bool {
	blank := true
	for i := range len(name) {
		c := name[i]
		if c < ' ' || c > '~' || c == ' ' && blank {
			return false
		}
		blank = c == ' '
	}
	return !blank
}

// Role says who somebody is for a dog.
type Role string

// The roles of a handler. An outsider does not train this dog: a kennel hand,
// a visitor, another dog's owner.
const (
	Trainer  Role = "trainer"
	Owner    Role = "owner"
	Outsider Role = "outsider"
)

// Roles lists the roles in order of mention.
var Roles = []Role{Trainer, Owner, Outsider}

// Kind says what a cue asks for and so how it is measured.
type Kind string

// The kinds of cue. A response is answered once (sit, come); a hold is kept for
// a time until released (stay, place); a motion is kept while walking (heel).
const (
	Response Kind = "response"
	Holding  Kind = "hold"
	Motion   Kind = "motion"
)

// Kinds lists the kinds in order of mention.
var Kinds = []Kind{Response, Holding, Motion}

// Signal is the form in which a cue is given. Two given together are joined
// with "+": voice+hand. Empty means the note did not say.
type Signal string

// Signals lists the single signals. Context is a situation that is the cue by
// itself, such as a halt for the automatic sit.
var Signals = []Signal{"voice", "hand", "whistle", "tone", "vibration", "context"}

// Leash is how the dog was kept during a session. Empty means not said.
type Leash string

// Leashes lists the leash states from most to least control.
var Leashes = []Leash{"leash", "long line", "drag line", "off"}

// Source is how the record of a session was made.
type Source string

// The sources. Memory (after the session) is the default of a note.
const (
	Live   Source = "live"
	Video  Source = "video"
	Memory Source = "memory"
)

// Sources lists the sources.
var Sources = []Source{Live, Video, Memory}

// Handler is somebody who gives cues, or scores them.
type Handler struct {
	ID      string   `json:"-"`
	Name    string   `json:"name"`
	Role    Role     `json:"role"`
	Aliases []string `json:"also"`
}

// Place is somewhere sessions happen. OffProperty is away from the kennel's own
// ground, where a dog ready to go home must have been tried.
type Place struct {
	ID          string   `json:"-"`
	Name        string   `json:"name"`
	OffProperty bool     `json:"offProperty"`
	Aliases     []string `json:"also"`
}

// Device is a collar whose dial positions are levels. A level means nothing on
// another device, so levels are never compared across names.
type Device struct {
	ID      string   `json:"-"`
	Name    string   `json:"name"`
	Lowest  Num      `json:"lowest"`  // lowest dial position, if the dial is known
	Highest Num      `json:"highest"` // highest dial position, if the dial is known
	Aliases []string `json:"also"`
}

// Cue is a cue of the kennel's list.
type Cue struct {
	ID      string   `json:"-"`
	Name    string   `json:"name"`
	Kind    Kind     `json:"kind"`
	Signal  Signal   `json:"signal"`          // usual signal; "context" for an automatic behaviour
	Limit   Num      `json:"limitSeconds"`    // response: seconds from start of cue to start of response
	Arrive  Num      `json:"arriveSeconds"`   // response: seconds to completion (come: within reach); unknown = no such limit
	Target  Num      `json:"targetSeconds"`   // hold: seconds to be held
	Breaks  Num      `json:"breaksPerMinute"` // motion: most position breaks a minute
	Ends    string   `json:"ends"`            // how it ends: "until released", "one answer"
	Meaning string   `json:"meaning"`         // what the dog is to do, for the owner's page
	Aliases []string `json:"also"`
}

// CueWord is how one dog knows a cue: the word and signal its people use.
type CueWord struct {
	Cue    string `json:"cue"`
	Word   string `json:"word"`   // "" = the cue's own name
	Signal string `json:"signal"` // hand signal in words, e.g. "flat palm down"
	Ends   string `json:"ends"`   // release word or event
}

// Boarding is one stay of a dog. Home is zero while the dog is here.
type Boarding struct {
	ID      string `json:"-"`
	Arrived Day    `json:"arrived"`
	Due     Day    `json:"due"`
	Home    Day    `json:"home"`
	Wishes  string `json:"wishes"` // owner's goals in the owner's words
	// Judged says that the dog was judged when it went home, as of the day it was
	// due or the day it left, whichever came first; Ready, that it was ready. They
	// are kept because the kennel's base rate rests on them.
	Judged bool `json:"-"`
	Ready  bool `json:"-"`
}

// Goal is an owner's wish as a measurable target. Empty or unknown parts do not
// restrict it.
type Goal struct {
	Cue         string `json:"cue"`
	Place       string `json:"place"`
	Leash       Leash  `json:"leash"`       // "off": asked off leash
	Distraction Num    `json:"distraction"` // at least this code, 0 to 4
	Handler     string `json:"person"`      // who asks
	Hold        Num    `json:"holdSeconds"` // hold: how long it is to be kept
	Bar         Num    `json:"share"`       // share of first asks answered, 0 to 1
	Words       string `json:"words"`       // as it was written
}

// VetHold is a dated span in which a dog, or some of its cues, must not be
// trained or judged. Days From and To belong to it; To zero means still open.
// After a hold of the whole dog, judgement starts from a new baseline.
type VetHold struct {
	ID       string   `json:"-"`
	From     Day      `json:"from"`
	To       Day      `json:"to"`
	Reason   string   `json:"reason"`
	Cues     []string `json:"cues"`     // only these cues are held; empty = the whole dog
	NoCollar bool     `json:"noCollar"` // no collar level may be used while it lasts
	// CollarOnly marks a hold of the collar alone: the dog may be trained
	// without it. It implies NoCollar.
	CollarOnly bool `json:"collarOnly"`
}

// Covers reports whether the hold forbids the cue on the day. An empty cue asks
// for the whole dog.
func (h VetHold) Covers(day Day, cue string) bool {
	if day < h.From || h.To != 0 && day > h.To {
		return false
	}
	if h.CollarOnly {
		return false // the dog may be trained without the collar
	}
	if len(h.Cues) == 0 {
		return true
	}
	for _, c := range h.Cues {
		if cue != "" && Key(c) == Key(cue) {
			return true
		}
	}
	return false
}

// ForbidsCollar reports whether no collar level may be used on the day.
func (h VetHold) ForbidsCollar(day Day) bool {
	return (h.NoCollar || h.CollarOnly) && day >= h.From && (h.To == 0 || day <= h.To)
}

// Dog is a dog in training, with everything about it that is not a session.
type Dog struct {
	ID         string     `json:"-"`
	Name       string     `json:"name"`
	Aliases    []string   `json:"also"`
	Born       Day        `json:"born"` // zero = not known
	RewardOnly bool       `json:"rewardOnly"`
	Consent    string     `json:"consent"`     // what the owner agreed to, in writing: equipment or reward only
	Device     string     `json:"device"`      // usual device
	Main       string     `json:"mainTrainer"` // main trainer; "" = whoever handled most sessions
	Owners     []string   `json:"owners"`
	Words      []CueWord  `json:"words"`
	Goals      []Goal     `json:"goals"`
	Boardings  []Boarding `json:"boardings"`
	Holds      []VetHold  `json:"holds"`
}

// Agreed reports whether the cue is one agreed with the owner. With no goals
// recorded every cue is.
func (d Dog) Agreed(cue string) bool {
	if len(d.Goals) == 0 {
		return true
	}
	for _, g := range d.Goals {
		if Key(g.Cue) == Key(cue) {
			return true
		}
	}
	return false
}

// RoleOf returns what the handler is for this dog: the owner of another dog is
// an outsider here.
func (d Dog) RoleOf(h Handler) Role {
	if h.Role != Owner || len(d.Owners) == 0 {
		return h.Role
	}
	for _, o := range d.Owners {
		if Key(o) == Key(h.Name) {
			return Owner
		}
	}
	return Outsider
}

// Boarding returns the stay that the day falls into or, if none, the last that
// began before it.
func (d Dog) Boarding(day Day) (Boarding, bool) {
	var best Boarding
	found := false
	for _, b := range d.Boardings {
		if b.Arrived <= day && (!found || b.Arrived > best.Arrived) {
			best, found = b, true
		}
	}
	return best, found
}

// Setting is one bar of the criteria, set for the kennel (no dog, no cue), a
// cue, a dog, or one cue of one dog. Names and meanings are analysis's.
type Setting struct {
	Dog   string  `json:"dog"`
	Cue   string  `json:"cue"`
	Name  string  `json:"name"`
	Value float64 `json:"value"`
}

// Kennel is the kennel's own lists: what a note may name.
type Kennel struct {
	Dogs     []Dog
	Handlers []Handler
	Places   []Place
	Devices  []Device
	Cues     []Cue
}

// Dog finds a dog by name or alias, whatever the case.
func (k Kennel) Dog(name string) (Dog, bool) {
	return find(k.Dogs, name, func(d Dog) (string, []string) { return d.Name, d.Aliases })
}

// Handler finds a handler by name or alias, whatever the case.
func (k Kennel) Handler(name string) (Handler, bool) {
	return find(k.Handlers, name, func(h Handler) (string, []string) { return h.Name, h.Aliases })
}

// Place finds a place by name or alias, whatever the case.
func (k Kennel) Place(name string) (Place, bool) {
	return find(k.Places, name, func(p Place) (string, []string) { return p.Name, p.Aliases })
}

// Device finds a device by name or alias, whatever the case.
func (k Kennel) Device(name string) (Device, bool) {
	return find(k.Devices, name, func(d Device) (string, []string) { return d.Name, d.Aliases })
}

// Cue finds a cue by name or alias, whatever the case.
func (k Kennel) Cue(name string) (Cue, bool) {
	return find(k.Cues, name, func(c Cue) (string, []string) { return c.Name, c.Aliases })
}

func find[T any](list []T, name string, names func(T) (string, []string)) (T, bool) {
	key := Key(name)
	for _, x := range list {
		n, aliases := names(x)
		if Key(n) == key {
			return x, true
		}
		for _, a := range aliases {
			if Key(a) == key {
				return x, true
			}
		}
	}
	var none T
	return none, false
}

// SeedCues returns the cues a new store starts with. Limits and targets are
// common practice, no source; every one can be changed.
func SeedCues() []Cue {
	answer := "one answer"
	return []Cue{
		{Name: "heel", Kind: Motion, Signal: "voice", Breaks: Known(0.5), Ends: "until halted or released", Meaning: "walk with the shoulder at your leg"},
		{Name: "sit", Kind: Response, Signal: "voice", Limit: Known(3), Ends: answer, Meaning: "bottom on the ground"},
		{Name: "down", Kind: Response, Signal: "voice", Limit: Known(3), Ends: answer, Meaning: "lying, elbows on the ground"},
		{Name: "stay", Kind: Holding, Signal: "voice", Limit: Known(3), Target: Known(60), Ends: "until released", Meaning: "keep the position until released"},
		{Name: "place", Kind: Holding, Signal: "voice", Limit: Known(3), Target: Known(120), Ends: "until released", Meaning: "go to the mat and stay on it until released", Aliases: []string{"mat"}},
		{Name: "come", Kind: Response, Signal: "voice", Limit: Known(3), Ends: answer, Meaning: "turn at once and come within reach", Aliases: []string{"recall", "here"}},
		{Name: "halt", Kind: Response, Signal: "context", Limit: Known(3), Ends: answer, Meaning: "sit unasked when you stop", Aliases: []string{"automatic sit"}},
		{Name: "leave it", Kind: Response, Signal: "voice", Limit: Known(3), Ends: answer, Meaning: "turn away from it and keep off", Aliases: []string{"leave"}},
	}
}
