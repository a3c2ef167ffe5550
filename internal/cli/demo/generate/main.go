// Command generate writes the invented session notes of the demo kennel, one
// file a day and writer, in the ways people write them: marks, times, counts,
// spoken words. Everything in them is made up. The same program always writes
// the same notes.
package main

import (
	"fmt"
	"hash/fnv"
	"log"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

func main() {
	if len(os.Args) != 2 {
		log.Fatal("usage: generate FOLDER")
	}
	for _, f := range notes() {
		if err := os.WriteFile(filepath.Join(os.Args[1], f.name), []byte(f.text), 0o644); err != nil {
			log.Fatal(err)
		}
	}
}

type file struct{ name, text string }

// visit is one session of the plan: who goes where with which dog.
type visit struct {
	dog, handler, place string
	at                  string // clock
	leash               string
	distraction         int
	asks                []ask
	remarks             []string
}

// ask is one cue of a session.
type ask struct {
	cue    string
	n      int
	good   float64 // share answered on the first ask, or holds kept
	fix    float64 // share of the misses that end in a correction
	level  int     // dial level of those; 0 = leash or voice
	target int     // seconds, holds
	walk   int     // seconds, heel
	breaks int
	meters int
	signal string
}

var first = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

const days = 19 // Monday 2 March to Friday 20 March

var weather = []string{"dry, cold", "drizzle", "dry", "windy", "rain till noon", "", "dry, mild"}

// notes returns every file of the kennel, oldest first.
func notes() []file {
	var out []file
	w := writer{turns: map[string]int{}}
	for d := range days {
		day := first.AddDate(0, 0, d)
		if day.Weekday() == time.Sunday {
			continue
		}
		byWriter := map[string][]visit{}
		for _, v := range plan(d) {
			who := v.handler
			if who != "Bram" {
				who = "Ailsa" // writes down what owners and the kennel hand did
			}
			byWriter[who] = append(byWriter[who], v)
		}
		for _, who := range []string{"Ailsa", "Bram"} {
			slices.SortStableFunc(byWriter[who], func(a, b visit) int { return strings.Compare(a.at, b.at) })
			if len(byWriter[who]) == 0 {
				continue
			}
			out = append(out, file{
				name: fmt.Sprintf("%s-%s.txt", day.Format("2006-01-02"), strings.ToLower(who)),
				text: w.day(day, d, who, byWriter[who]),
			})
		}
	}
	return out
}

// writer puts visits into words. turns counts the trials of each dog, cue and
// handler, so that the share answered follows the plan closely even when few
// trials are asked.
type writer struct{ turns map[string]int }

// draw returns the next number in [0,1) of a series: a golden-ratio sequence,
// which spreads more evenly than chance.
func (w *writer) draw(series string) float64 {
	h := 0.0
	for _, r := range series {
		h = math.Mod(h*31+float64(r), 1009)
	}
	w.turns[series]++
	_, f := math.Modf(h/1009 + float64(w.turns[series])*0.6180339887498949)
	return f
}

// chance returns the next number in [0,1) of a series, evenly spread but with
// no pattern to the eye (FNV-1a of the series and its count).
func (w *writer) chance(series string) float64 {
	w.turns[series]++
	h := fnv.New32a()
	fmt.Fprintf(h, "%s %d", series, w.turns[series])
	return float64(h.Sum32()%9973) / 9973
}

func (w *writer) day(day time.Time, d int, who string, visits []visit) string {
	var b strings.Builder
	dictated := who == "Bram" && d%4 == 2
	for i, v := range visits {
		if i > 0 {
			b.WriteString("\n")
		}
		if v.handler == who && i > 0 {
			fmt.Fprintf(&b, "dog: %s; handler: %s\n", v.dog, v.handler)
		} else if v.handler == who {
			fmt.Fprintf(&b, "handler: %s; dog: %s\n", v.handler, v.dog)
		} else {
			fmt.Fprintf(&b, "dog: %s; handler: %s; scorer: %s\n", v.dog, v.handler, who)
		}
		fmt.Fprintf(&b, "start: %s %s; place: %s; leash: %s; distraction: %d\n", day.Format("2006-01-02"), v.at, v.place, v.leash, v.distraction)
		if s := weather[d%len(weather)]; i == 0 && s != "" {
			fmt.Fprintf(&b, "weather: %s\n", s)
		}
		for _, a := range v.asks {
			if a.level > 0 {
				b.WriteString("device: blue remote\n")
				break
			}
		}
		for _, a := range v.asks {
			b.WriteString(w.line(v, a, d, dictated) + "\n")
		}
		for _, r := range v.remarks {
			b.WriteString(r + "\n")
		}
	}
	return b.String()
}

// line writes one cue of a session.
func (w *writer) line(v visit, a ask, d int, dictated bool) string {
	key := v.dog + a.cue + v.handler
	if v.handler != "Ailsa" {
		key = v.dog + a.cue + "others"
	}
	head := a.cue
	if a.signal != "" {
		head += " " + a.signal
	}
	if a.meters > 0 {
		head += fmt.Sprintf(" %dm", a.meters)
	}
	if a.walk > 0 {
		head += fmt.Sprintf(" %d:%02d", a.walk/60, a.walk%60)
		if a.breaks == 0 {
			return head
		}
		for i := range a.breaks {
			if w.draw(key+"fix") < a.fix {
				head += " - " + correction(a, i)
			} else {
				head += " -"
			}
		}
		return head
	}
	if a.target > 0 {
		for i := range a.n {
			if i == 0 {
				head += fmt.Sprintf(" %d:%02d", a.target/60, a.target%60)
			}
			if w.draw(key) < a.good {
				head += " +"
			} else {
				held := int(float64(a.target) * (0.25 + 0.6*w.chance(key+"held")))
				head += fmt.Sprintf(" - %d:%02d", held/60, held%60)
				if w.draw(key+"fix") < a.fix {
					head += " " + correction(a, i)
				}
			}
			if i < a.n-1 {
				head += ","
			}
		}
		return head
	}

	results := make([]bool, a.n)
	misses := 0
	for i := range results {
		results[i] = w.draw(key) < a.good
		if !results[i] {
			misses++
		}
	}
	style := int(w.chance(key+"style") * 4)
	switch {
	case dictated && misses == 0:
		return head + " " + number[a.n] + " yes"
	case misses == 0 && style == 0:
		return fmt.Sprintf("%s %d+", head, a.n)
	case style == 1 && a.n >= 6 && a.fix == 0:
		return fmt.Sprintf("%s %d/%d", head, a.n-misses, a.n)
	}
	var parts []string
	run := 0
	flush := func() {
		if run == 1 {
			parts = append(parts, "+")
		} else if run > 1 {
			parts = append(parts, fmt.Sprintf("%d+", run))
		}
		run = 0
	}
	for i, yes := range results {
		lat := 0.7 + 1.3*w.chance(key+"time")
		timed := style >= 2 || v.handler == "Ailsa" && d%3 == 0
		switch {
		case yes && timed && a.cue == "come":
			parts = append(parts, fmt.Sprintf("+%.1f>%.1f", lat, lat+2+float64(a.meters)/5))
		case yes && timed:
			parts = append(parts, fmt.Sprintf("+%.1f", lat))
		case yes:
			run++
		default:
			flush()
			parts = append(parts, w.miss(key, a, i, lat))
		}
	}
	flush()
	sep := ", "
	if dictated {
		sep = " next "
	}
	return head + " " + strings.Join(parts, sep)
}

// miss writes one trial that did not go right at once.
func (w *writer) miss(key string, a ask, i int, lat float64) string {
	if w.draw(key+"fix") < a.fix {
		return "- " + correction(a, i) + fmt.Sprintf(" +%.1f", lat)
	}
	switch int(w.chance(key+"miss") * 4) {
	case 0:
		return "- +"
	case 1:
		if a.cue == "down" {
			return "x:sat help:lure +"
		}
		return "- help +"
	case 2:
		return "- -"
	}
	return fmt.Sprintf("- +%.1f", lat)
}

func correction(a ask, i int) string {
	if a.level > 0 {
		return fmt.Sprintf("@%d", a.level+i%3)
	}
	if i%2 == 1 {
		return "@verbal"
	}
	return "@leash"
}

var number = []string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
