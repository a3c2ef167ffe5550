package store

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"firstcue/internal/training"
)

// Names that no note could give, or that nobody can see to be what they are, are
// refused with what to do. Unicode's bidirectional algorithm (UAX 9) has the list
// of characters that turn a text; the joiners are needed to write Persian and
// Indic scripts (Unicode Standard, section 23.2).
func TestNamesThatAreRefused(t *testing.T) {
	s := open(t, "a")
	unseen := []rune{0x200B, 0x2060, 0xFEFF}
	for r := rune(0x202A); r <= 0x202E; r++ {
		unseen = append(unseen, r)
	}
	for r := rune(0x2066); r <= 0x2069; r++ {
		unseen = append(unseen, r)
	}
	bad := map[string]string{
		"a;b": `such as "a b"`, "#x": `such as "x"`, "K9#2": `such as "K9 2"`, "Mr #4": `such as "Mr 4"`, ";#": "choose a name without",
		"a\x1b[31m": "control character", "a\u009b31m": "control character", "a\x00b": "control character", "": "needs a name", " \n ": "needs a name",
	}
	for _, r := range unseen {
		bad["Ta"+string(r)+"rn"] = fmt.Sprintf("can't be seen (%U), as pasted text may; type the name instead", r)
		bad[string(r)+"Tarn"] = fmt.Sprintf("(%U)", r)
	}
	for name, says := range bad {
		_, err1 := s.PutDog(ctx, training.Dog{Name: name})
		_, err2 := s.PutHandler(ctx, training.Handler{Name: name})
		_, err3 := s.PutPlace(ctx, training.Place{Name: name})
		_, err4 := s.PutDevice(ctx, training.Device{Name: name})
		_, err5 := s.PutCue(ctx, training.Cue{Name: name, Kind: training.Response})
		_, err6 := s.PutDog(ctx, training.Dog{Name: "Sorrel", Aliases: []string{name}})
		for i, err := range []error{err1, err2, err3, err4, err5, err6} {
			if !errors.Is(err, ErrInvalid) || !strings.Contains(err.Error(), says) {
				t.Errorf("%q, %d: %v", name, i+1, err)
			} else if strings.ContainsAny(err.Error(), string(unseen)+"\x1b\u009b") {
				t.Errorf("%q: the message holds it raw: %q", name, err)
			}
		}
	}
	if k := must2(s.Kennel(ctx)); len(k.Dogs)+len(k.Handlers)+len(k.Places)+len(k.Devices) > 0 || len(k.Cues) != len(training.SeedCues()) {
		t.Errorf("something was added: %+v", k)
	}
	for _, name := range []string{"نیم\u200cگل", "क्\u200dष", "🐕\u200d🦺", "Tarn B", "Mr. O'Neil-Ash (2)", "\u200eתמר"} {
		if _, err := s.PutDog(ctx, training.Dog{Name: name}); err != nil {
			t.Errorf("%q: %v", name, err)
		}
	}
	if err := s.SetMapping(ctx, "sheet #2", "x"); err != nil { // no note gives the name of a map
		t.Errorf("a map: %v", err)
	}
}

// A name that is there already, from another store or an older program, stops no
// change of its entry, and can be renamed.
func TestRefusedNamesThatAreThere(t *testing.T) {
	s := open(t, "a")
	const name = "Ta\u202ern; #1"
	if err := s.write(ctx, func(t *tx) error {
		_, err := t.set(aPlace, entityOf(aPlace, training.Key(name)), &placeFields{named: named{Name: name}}, "place added")
		return err
	}); err != nil {
		t.Fatal(err)
	}
	p := must2(s.Kennel(ctx)).Places[0]
	p.OffProperty = true
	if _, err := s.PutPlace(ctx, p, "offProperty"); err != nil {
		t.Errorf("a change: %v", err)
	}
	p.Aliases = []string{"b;c"}
	if _, err := s.PutPlace(ctx, p); !errors.Is(err, ErrInvalid) {
		t.Errorf("another such spelling: %v", err)
	}
	if err := s.Rename(ctx, "place", name, "yard"); err != nil {
		t.Errorf("another name: %v", err)
	}
	if p := must2(s.Kennel(ctx)).Places[0]; p.Name != "yard" || !p.OffProperty || len(p.Aliases) != 1 || p.Aliases[0] != name {
		t.Errorf("%+v", p)
	}
}
