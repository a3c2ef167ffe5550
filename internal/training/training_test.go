package training

import (
	"encoding/json"
	"strings"
	"testing"
	"time"
)

func TestNumIsNullWhenUnknown(t *testing.T) {
	for _, c := range []struct {
		n    Num
		json string
	}{{Num{}, "null"}, {Known(0), "0"}, {Known(1.8), "1.8"}} {
		b, err := json.Marshal(c.n)
		if err != nil || string(b) != c.json {
			t.Errorf("%+v is %s, %v; want %s", c.n, b, err, c.json)
		}
		back := Known(7)
		if err := json.Unmarshal(b, &back); err != nil || back != c.n {
			t.Errorf("%s reads as %+v, %v", b, back, err)
		}
	}
}

// Days count calendar dates: a day with 23 or 25 hours is one day.
func TestDaysAreCalendarDays(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	before := time.Date(2026, 3, 28, 23, 50, 0, 0, berlin) // the clocks go forward that night
	after := time.Date(2026, 3, 30, 0, 10, 0, 0, berlin)
	if d := DayOf(after) - DayOf(before); d != 2 {
		t.Errorf("%d days from the evening of the 28th to the morning of the 30th, want 2", d)
	}
	if got := DayOf(before).String(); got != "2026-03-28" {
		t.Errorf("23:50 in the kennel's zone belongs to %s", got)
	}
	if Date(1970, 1, 2) != 1 || Day(0).String() != "" {
		t.Error("days count from 1 January 1970, and zero is no day")
	}
	for _, bad := range []string{"", "2026-02-30", "2026-2-3", "04/03/2026", "2026-03-04 9:10", "yestreday"} {
		if d, err := ParseDay(bad); err == nil {
			t.Errorf("%q is read as %v", bad, d)
		}
	}
	if d, err := ParseDay("2028-02-29"); err != nil || d.String() != "2028-02-29" {
		t.Errorf("a leap day: %v %v", d, err)
	}
}

func TestVetHoldCovers(t *testing.T) {
	whole := VetHold{From: 10, To: 16, Reason: "sore hip"}
	open := VetHold{From: 10, Cues: []string{"Sit"}, NoCollar: true}
	collar := VetHold{From: 10, CollarOnly: true}
	for _, c := range []struct {
		hold   VetHold
		day    Day
		cue    string
		covers bool
		collar bool
	}{
		{whole, 9, "sit", false, false}, {whole, 10, "sit", true, false}, {whole, 16, "", true, false}, {whole, 17, "sit", false, false},
		{open, 9, "sit", false, false}, {open, 400, "sit", true, true}, {open, 12, "down", false, true}, {open, 12, "", false, true},
		{collar, 12, "sit", false, true}, {collar, 12, "", false, true}, {collar, 9, "", false, false},
	} {
		if got := c.hold.Covers(c.day, c.cue); got != c.covers {
			t.Errorf("%+v covers %q on day %d: %v", c.hold, c.cue, c.day, got)
		}
		if got := c.hold.ForbidsCollar(c.day); got != c.collar {
			t.Errorf("%+v forbids the collar on day %d: %v", c.hold, c.day, got)
		}
	}
}

// The owner of another dog is an outsider here.
func TestRoleOf(t *testing.T) {
	d := Dog{Name: "Tarn", Owners: []string{"Mrs  Oake"}}
	for _, c := range []struct {
		h    Handler
		want Role
	}{
		{Handler{Name: "mrs oake", Role: Owner}, Owner},
		{Handler{Name: "Mr Venn", Role: Owner}, Outsider},
		{Handler{Name: "Ailsa", Role: Trainer}, Trainer},
		{Handler{Name: "Mrs Oake", Role: Trainer}, Trainer},
	} {
		if got := d.RoleOf(c.h); got != c.want {
			t.Errorf("%s, %s, is %s to Tarn; want %s", c.h.Name, c.h.Role, got, c.want)
		}
	}
}

func TestNamesAreFoundWhateverTheCase(t *testing.T) {
	k := Kennel{Cues: SeedCues(), Places: []Place{{Name: "Back Field", Aliases: []string{"the field"}}}}
	for word, want := range map[string]string{"SIT": "sit", "mat": "place", "Leave  It": "leave it", "recall": "come"} {
		if c, ok := k.Cue(word); !ok || c.Name != want {
			t.Errorf("%q finds %q, %v", word, c.Name, ok)
		}
	}
	if p, ok := k.Place(" the  FIELD "); !ok || p.Name != "Back Field" {
		t.Errorf("the alias finds %q, %v", p.Name, ok)
	}
	if _, ok := k.Cue("heal"); ok {
		t.Error("a name is never guessed")
	}
}

func TestBoardingOfADay(t *testing.T) {
	d := Dog{Boardings: []Boarding{{ID: "a", Arrived: 10, Home: 30}, {ID: "b", Arrived: 100}}}
	for day, want := range map[Day]string{9: "", 10: "a", 40: "a", 100: "b", 200: "b"} {
		if b, ok := d.Boarding(day); b.ID != want || ok != (want != "") {
			t.Errorf("day %d falls into %q, %v; want %q", day, b.ID, ok, want)
		}
	}
}

// The short way to a key gives what the long way gives.
func TestKeyTakesNoShortCut(t *testing.T) {
	for _, c := range [][2]string{
		{"", ""}, {" ", ""}, {"sit", "sit"}, {"Sit", "sit"}, {"leave it", "leave it"}, {"Leave  It", "leave it"}, {" sit", "sit"}, {"sit ", "sit"},
		{"back\tfield", "back field"}, {"back\u00a0Field", "back field"}, {"back\u0085field", "back field"}, {"\vsit\n", "sit"}, {"Ärla", "ärla"}, {"sit\u2003", "sit"},
		{"a-b_c.'~", "a-b_c.'~"}, {"\x01 a", "\x01 a"}, {"İ", strings.ToLower("İ")},
	} {
		if got := Key(c[0]); got != c[1] {
			t.Errorf("the key of %q is %q, want %q", c[0], got, c[1])
		}
	}
}
