package note

import (
	"cmp"
	"math/bits"
	"slices"
	"sort"
	"strings"

	"firstcue/internal/training"
)

// Costs of the edits that turn one word into another, in tenths of a letter.
// Mistakes that fingers and spell checkers make are cheap: two letters swapped,
// one vowel for another, a letter doubled. Judgement, no source.
const (
	costEdit   = 10 // a letter more, less, or another
	costVowel  = 6  // one vowel for another: heal, heel
	costSwap   = 6  // two neighbours swapped: hele, heel
	costDouble = 5  // a letter doubled or not: heell, heel
	costPart   = 8  // the word begins, or is one of the words of, the name
	nearMost   = 3  // so many names are shown at most
)

// Nearest returns the names of list closest to word, the closest first, at most
// three; equal ones in order of the alphabet. Case and blanks do not count.
// Names further off than a third of the word's letters (at least one letter)
// are left out, so a word that resembles nothing gets no suggestion.
func Nearest(word string, list []string) []string {
	type scored struct {
		name string
		cost int
	}
	w := []rune(training.Key(word))
	if len(w) == 0 || len(w) > 100 {
		return nil
	}
	var all []scored
	seen := map[string]bool{}
	for _, name := range list {
		key := training.Key(name)
		if key == "" || seen[key] {
			continue
		}
		seen[key] = true
		n := []rune(key)
		if len(n) > 100 {
			continue
		}
		floor := max(costEdit, costEdit*max(len(w), len(n))/3)
		if len(w) <= 2 {
			floor = costVowel // two letters resemble too much
		}
		c := editCost(w, n)
		if len(w) >= 3 {
			for i, part := range strings.Fields(key) {
				if part == string(w) || i == 0 && strings.HasPrefix(key, string(w)) {
					c = min(c, costPart)
				}
			}
		}
		if c <= floor {
			all = append(all, scored{name, c})
		}
	}
	sort.SliceStable(all, func(i, j int) bool {
		if all[i].cost != all[j].cost {
			return all[i].cost < all[j].cost
		}
		return all[i].name < all[j].name
	})
	var out []string
	for i, s := range all {
		if i == nearMost || s.cost > all[0].cost+costEdit {
			break
		}
		out = append(out, s.name)
	}
	return out
}

// slips is Slips.Of for a list that is looked through once.
func slips(word string, list []string) []string {
	var s Slips
	for _, name := range list {
		s.Add(name)
	}
	return s.Of(word)
}

// Slips finds the names that a word is one slip of the finger from: too close to
// be taken for a new name without being asked for. Names that differ in a digit
// (field 1, field 2) are meant to differ. The zero value has no names; to ask ten
// thousand names takes some ten microseconds.
type Slips struct{ names []slipName }

type slipName struct {
	letters uint64 // a bit for each letter, some share one
	key     []rune
	name    string
}

// Add makes a name known.
func (s *Slips) Add(name string) {
	key := []rune(training.Key(name))
	s.names = append(s.names, slipName{lettersOf(key), key, name})
}

// Of returns the names that word may be meant for, the closest first, at most
// three; equal ones in order of the alphabet. A word of fewer than three letters
// is nobody's slip.
func (s *Slips) Of(word string) []string {
	w := []rune(training.Key(word))
	if len(w) < 3 || len(w) > 100 {
		return nil
	}
	type scored struct {
		slipName
		cost int
	}
	var near []scored
	letters, digits := lettersOf(w), digitsOf(w)
	for i := range s.names {
		n := &s.names[i]
		// One slip changes one letter into another, or doubles two.
		if bits.OnesCount64(letters^n.letters) > 2 || len(n.key)-len(w) > 2 || len(w)-len(n.key) > 2 {
			continue
		}
		if c := editCost(w, n.key); c <= costEdit && digits == digitsOf(n.key) && !slices.ContainsFunc(near, func(x scored) bool { return slices.Equal(x.key, n.key) }) {
			near = append(near, scored{*n, c})
		}
	}
	slices.SortStableFunc(near, func(a, b scored) int { return cmp.Or(cmp.Compare(a.cost, b.cost), strings.Compare(a.name, b.name)) })
	var out []string
	for _, x := range near[:min(nearMost, len(near))] {
		out = append(out, x.name)
	}
	return out
}

func lettersOf(key []rune) uint64 {
	var m uint64
	for _, r := range key {
		m |= 1 << (uint(r) % 64)
	}
	return m
}

func digitsOf(w []rune) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, string(w))
}

// editCost is the optimal string alignment distance (Levenshtein's with swaps of
// neighbours) under the costs above.
func editCost(a, b []rune) int {
	d := make([][]int, len(a)+1)
	for i := range d {
		d[i] = make([]int, len(b)+1)
	}
	gap := func(s []rune, i int) int { // cost of letter i of s being too many
		if i > 0 && s[i] == s[i-1] {
			return costDouble
		}
		return costEdit
	}
	for i := range a {
		d[i+1][0] = d[i][0] + gap(a, i)
	}
	for j := range b {
		d[0][j+1] = d[0][j] + gap(b, j)
	}
	for i := range a {
		for j := range b {
			sub := costEdit
			switch {
			case a[i] == b[j]:
				sub = 0
			case vowel(a[i]) && vowel(b[j]):
				sub = costVowel
			}
			c := min(d[i][j]+sub, d[i][j+1]+gap(a, i), d[i+1][j]+gap(b, j))
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] && a[i] != b[j] {
				c = min(c, d[i-1][j-1]+costSwap)
			}
			d[i+1][j+1] = c
		}
	}
	return d[len(a)][len(b)]
}

func vowel(r rune) bool { return strings.ContainsRune("aeiouy", r) }
