package report

import (
	"bytes"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

func nan() float64 { return math.NaN() }

// luminance and contrast are WCAG 2.2's definitions.
func luminance(hex string) float64 {
	hex = strings.TrimPrefix(hex, "#")
	if len(hex) == 3 {
		hex = string([]byte{hex[0], hex[0], hex[1], hex[1], hex[2], hex[2]})
	}
	sum := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		n, _ := strconv.ParseUint(hex[2*i:2*i+2], 16, 8)
		c := float64(n) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

func contrast(a, b string) float64 {
	x, y := luminance(a), luminance(b)
	if x < y {
		x, y = y, x
	}
	return (x + 0.05) / (y + 0.05)
}

// Text has 4.5:1 on its ground and marks have 3:1 (WCAG 2.2, 1.4.3 and 1.4.11),
// in light, dark and print.
func TestContrast(t *testing.T) {
	// published values: black on white is 21; Okabe-Ito blue on white 5.19
	if got := contrast("#000", "#fff"); math.Abs(got-21) > 1e-9 {
		t.Fatalf("black on white has %v", got)
	}
	if got := contrast("#0072B2", "#ffffff"); math.Abs(got-5.19) > 0.005 {
		t.Fatalf("blue on white has %v", got)
	}
	roots := regexp.MustCompile(`:root\{([^}]*)\}`).FindAllStringSubmatch(pageStyle, -1)
	if len(roots) != 3 {
		t.Fatalf("%d sets of colours, want light, dark and print", len(roots))
	}
	for i, r := range roots {
		c := map[string]string{}
		for _, m := range regexp.MustCompile(`--([a-z]+):(#[0-9a-f]+)`).FindAllStringSubmatch(r[1], -1) {
			c[m[1]] = m[2]
		}
		if len(c) != 12 {
			t.Fatalf("set %d has %d colours", i, len(c))
		}
		for _, ground := range []string{"paper", "tint"} {
			for _, text := range []string{"ink", "soft", "ready", "wait", "not", "hold"} {
				if got := contrast(c[text], c[ground]); got < 4.5 {
					t.Errorf("set %d: %s on %s has %.2f, want 4.5", i, text, ground, got)
				}
			}
		}
		if got := contrast(c["second"], c["paper"]); got < 4.5 {
			t.Errorf("set %d: text of the bar has %.2f", i, got)
		}
		for _, m := range []string{"mark", "second", "hatch"} {
			if got := contrast(c[m], c["paper"]); got < 3 {
				t.Errorf("set %d: %s has %.2f, want 3", i, m, got)
			}
		}
	}
}

// A packet holds nothing of another dog or another owner.
func TestPacketKeepsOthersOut(t *testing.T) {
	a, r := juniper(), juniperRecord()
	a.Dog.Holds = r.Dog.Holds
	a.Why = []string{"better than BRACKEN"}
	a.Boarding.Wishes = "to walk with Bracken's owner, Mrs  Hallow"
	a.Cues[1].Contexts = append(a.Cues[1].Contexts, at("Mrs Hallow", training.Outsider, "car park", false, 3, 4, 1), at("Iben", training.Outsider, "car park", false, 4, 4, 1),
		at("Ulrika", training.Outsider, "car park", false, 4, 4, 1), // in no list
		at("Tove", training.Trainer, "behind Bracken's run", false, 4, 4, 1))
	a.Cues[1].Days3[2].NewHandler, a.Cues[1].Days3[3].NewPlace = "Iben", "behind Bracken's run"
	a.Cues[2].Reason, a.Cues[2].Gates = "distracted by Bracken and Mrs Hallow", nil
	r.Sessions[0].Reward = "Bracken's cheese"
	r.Incidents = append(r.Incidents, training.Incident{ID: "i9", Dog: "Juniper", Day: day(18), Text: "bracken snapped back; Bracken,Mrs Hallow; Brackenbury stays"})
	var b bytes.Buffer
	if err := Packet(&b, a, r, PacketOptions{}); err != nil {
		t.Fatal(err)
	}
	low := strings.ToLower(b.String())
	for _, n := range []string{"hallow", "iben", "ulrika", "limped"} {
		if strings.Contains(low, n) {
			t.Errorf("the packet names %q: %s", n, around(low, n))
		}
	}
	if n := strings.Count(low, "bracken"); n != 1 || !strings.Contains(low, "brackenbury") {
		t.Errorf("another dog is named: %s", around(low, "bracken"))
	}
	for _, want := range []string{"another dog", "another owner", "somebody new to Juniper (1)", "somebody new to Juniper (2)", "Mr Aldous (owner)", "snapped at a broom. Closed on Wed 11 Mar: broom put away"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the packet lacks %q", want)
		}
	}
}

func around(s, word string) string {
	i := strings.Index(s, word)
	return s[max(0, i-60):min(len(s), max(0, i)+60)]
}

// A dog trained without a collar has a packet without a word on wearing one.
func TestPacketWithoutCollar(t *testing.T) {
	var b bytes.Buffer
	if err := Packet(&b, fern(), training.Record{Dog: fern().Dog}, PacketOptions{}); err != nil {
		t.Fatal(err)
	}
	s := b.String()
	if !strings.Contains(s, "No collar was used.") || !strings.Contains(s, "rewards only") {
		t.Error("the packet does not say that no collar was used")
	}
	for _, word := range []string{"dial", "contacts on the skin", "Corrected at", "level 0"} {
		if strings.Contains(s, word) {
			t.Errorf("the packet of a dog without a collar speaks of %q", word)
		}
	}
	b.Reset()
	if err := Packet(&b, juniper(), juniperRecord(), PacketOptions{}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Skin: look and feel", "These levels are a record, not a recommendation", "Do not turn it up", "levels 6 to 12", "forbid or restrict", "Veterinary behaviour bodies"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the packet of a dog with a collar lacks %q", want)
		}
	}
}

// While a vet hold lasts, the packet gives no homework.
func TestPacketOnHold(t *testing.T) {
	a := juniper()
	a.Verdict = analysis.OnHold
	var b bytes.Buffer
	if err := Packet(&b, a, training.Record{}, PacketOptions{}); err != nil {
		t.Fatal(err)
	}
	if s := b.String(); !strings.Contains(s, "None until your vet agrees") || strings.Contains(s, "Week 1, from") {
		t.Error("homework for a dog on hold")
	}
}

func TestNightly(t *testing.T) {
	n := nightlyOf(juniper())
	var order []string
	for _, a := range n.Attention {
		order = append(order, a.Code+" "+a.Dog+" "+a.Cue)
	}
	want := []string{"incident Juniper ", "vet hold Juniper ", "pain Juniper come", "fell Juniper ", "slipping Juniper down", "corrections Juniper down", "due Juniper ", "idle Sorrel "}
	// heel was last asked two days ago: not yet stale
	if strings.Join(order, "|") != strings.Join(want, "|") {
		t.Errorf("attention in the order\n%q, want\n%q", order, want)
	}
	if len(n.Rows) != 3 || n.Rows[0].Dog != "Fern" || n.Rows[1].Dog != "Juniper" || n.Rows[2].Dog != "Sorrel" {
		t.Fatalf("rows %v", n.Rows)
	}
	j := n.Rows[1]
	if j.Sessions != 2 || j.Trials != 14 || j.Yes != 11 || j.Of != 14 {
		t.Errorf("today: %d sessions, %d trials, %d of %d", j.Sessions, j.Trials, j.Yes, j.Of)
	}
	// last night's levels: down .8996 of 9 trials, sit .975 of 5
	if !j.Usual.Known || math.Abs(j.Usual.V-13) > 0.05 {
		t.Errorf("usual %v, want 13.0", j.Usual)
	}
	if n.Rows[2].Before != "" || j.Before != analysis.Ready {
		t.Errorf("yesterday: %q and %q", n.Rows[2].Before, j.Before)
	}
	if !n.NeedsAttention() || MakeNightly(day(20), []analysis.Assessment{fern()}, nil, nil).NeedsAttention() {
		t.Error("attention where there is say.None, or say.None where there is")
	}
	// the order in which dogs are handed over does not matter
	a, b := juniper(), fern()
	x, y := MakeNightly(day(20), []analysis.Assessment{a, b}, yesterday(), nil), MakeNightly(day(20), []analysis.Assessment{b, a}, yesterday(), nil)
	var s, u bytes.Buffer
	if err := NightlyText(&s, x, Options{}); err != nil {
		t.Fatal(err)
	}
	if err := NightlyText(&u, y, Options{}); err != nil {
		t.Fatal(err)
	}
	if s.String() != u.String() {
		t.Error("the order of the dogs changes the report")
	}
	late := juniper()
	late.AsOf, late.DaysToDue = day(24), training.Known(-1)
	if got := MakeNightly(day(24), []analysis.Assessment{late}, nil, nil); got.Attention[3].Code != "overdue" {
		t.Errorf("a dog kept past its day: %v", got.Attention)
	}
	if got := MakeNightly(day(24), []analysis.Assessment{late}, nil, nil).Rows[0].Untouched; strings.Join(got, ",") != "heel,sit,down,stay,come" {
		t.Errorf("untouched four days on: %v", got)
	}
}
