package chart

import (
	"time"

	"firstcue/internal/training"
)

func march(n int) training.Day { return training.Date(2026, time.March, n) }

// drift is a level that moves evenly over the days.
func drift(days []int, from, to, half float64) []Level {
	var out []Level
	for i, d := range days {
		v := from + (to-from)*float64(i)/float64(max(1, len(days)-1))
		out = append(out, Level{march(d), v, max(0, v-half), min(1, v+half)})
	}
	return out
}

const note = "First asks answered. Line: level. Band: where it likely lies. Bigger mark: more asks."

// gorse is a dog that gets worse while the dial goes up, with an incident.
func gorse() Chart {
	days := []int{3, 4, 5, 6, 7, 9, 10, 11, 12, 13, 14, 16, 17, 18, 19, 20}
	yes := []float64{3, 4, 3, 3, 3, 4, 3, 3, 4, 3, 3, 3, 2, 3, 3, 2}
	who := []int{0, 1, 0, 0, 1, 0, 1, 0, 0, 1, 0, 1, 0, 0, 1, 0}
	c := Chart{Title: "Gorse, come", Note: note, Describe: "Gorse, come: 58 % now, likely 39 to 74, not getting better.",
		From: march(3), To: march(20), Bar: training.Known(.85), BarLabel: "85 % must be passed", People: []string{"Bram", "Ailsa"},
		Lines: []Line{{"now 58 %", "39 to 74", drift(days, .62, .58, .17)}},
		Events: []Event{{march(4), "+ Ailsa", false}, {march(4), "+ paddock", false}, {march(5), "+ barn", false},
			{march(7), "+ market square", false}, {march(10), "+ mill lane", false}, {march(19), "growled", true}},
	}
	for i, d := range days {
		c.Dots = append(c.Dots, Dot{Day: march(d), Value: yes[i] / 5, Tries: 5, Person: who[i]})
	}
	dial := Device{Title: "Dial of the blue remote, at each correction", Label: "from 9 to 18-20"}
	for i, d := range days[3:] {
		v := 9 + float64(i)*.8
		dial.Days = append(dial.Days, Dial{march(d), v, v - 1, v + 1})
	}
	c.Devices = []Device{dial}
	return c
}

// sorrel is a dog that does it for one person.
func sorrel() Chart {
	days := []int{2, 3, 4, 5, 6, 7, 9, 10, 11, 12, 13, 14, 16, 17, 18, 19, 20}
	c := Chart{Title: "Sorrel, come", Note: note, Describe: "Sorrel, come: 97 % for Ailsa, 56 % for the others.",
		From: march(2), To: march(20), Bar: training.Known(.85), BarLabel: "85 % must be passed", People: []string{"Ailsa", "Bram", "Mr Venn"},
		Lines: []Line{{"now 91 %", "84 to 95", drift(days, .84, .91, .07)}, {"not Ailsa 56 %", "33 to 77", drift([]int{10, 13, 16, 18}, .56, .56, .22)}},
		Events: []Event{{march(3), "+ paddock", false}, {march(4), "+ barn", false}, {march(9), "+ mill lane", false}, {march(10), "+ Bram", false},
			{march(12), "+ market square", false}, {march(18), "+ Mr Venn", false}},
	}
	for i, d := range days {
		c.Dots = append(c.Dots, Dot{Day: march(d), Value: []float64{4. / 6, 5. / 6, 1}[min(i, 2)], Tries: float64(6 + i%3), Person: 0})
	}
	c.Dots = append(c.Dots, Dot{Day: march(10), Value: .5, Tries: 4, Person: 1}, Dot{Day: march(13), Value: .75, Tries: 4, Person: 1},
		Dot{Day: march(16), Value: .25, Tries: 4, Person: 1}, Dot{Day: march(18), Value: .75, Tries: 4, Person: 2})
	return c
}

// thistle fell before a vet hold.
func thistle() Chart {
	days := []int{3, 4, 5, 6, 7, 9, 10, 11, 12, 13, 14}
	yes := []float64{3, 4, 4, 4, 4, 4, 5, 5, 5, 2, 2}
	l := drift(days, .75, .77, .14)
	l[9], l[10] = Level{march(13), .73, .45, .88}, Level{march(14), .72, .37, .88}
	c := Chart{Title: "Thistle, sit", Note: note, Describe: "Thistle, sit: fell just before the vet hold.", From: march(3), To: march(20),
		Bar: training.Known(.85), BarLabel: "85 % must be passed", People: []string{"Ailsa", "Bram"},
		Lines: []Line{{"14 Mar 72 %", "37 to 88", l}}, Holds: []Hold{{march(15), march(20), "vet hold"}},
		Events: []Event{{march(4), "+ Ailsa, barn", false}, {march(5), "+ orchard", false}, {march(9), "+ mill lane", false}, {march(12), "+ market square", false}}}
	for i, d := range days {
		c.Dots = append(c.Dots, Dot{Day: march(d), Value: yes[i] / 5, Tries: 5, Person: i % 2})
	}
	return c
}

// heel is a motion: breaks a minute, and less is better.
func heel() Chart {
	days := []int{3, 5, 6, 9, 11, 12, 16, 18, 20}
	rate := []float64{1.6, 1.2, 1.25, 1, .9, .6, .55, .4, .3}
	c := Chart{Title: "Tarn, heel", Note: "Breaks a minute, fewer is higher up. Line: level. Band: where it likely lies. Bigger mark: more minutes.",
		Describe: "Tarn, heel: 0.35 breaks a minute now.", From: march(3), To: march(20), Top: 2, Bar: training.Known(.5), BarLabel: "0.5 at most",
		People: []string{"Ailsa", "Pim"}, Events: []Event{{march(11), "+ Pim", false}, {march(12), "+ mill lane", false}}}
	var l Line
	l.Label, l.Detail = "now 0.35", "0.2 to 0.6"
	for i, d := range days {
		v := 1.5 - float64(i)*.14
		l.Points = append(l.Points, Level{march(d), v, v - .2, v + .3})
		c.Dots = append(c.Dots, Dot{Day: march(d), Value: rate[i], Tries: float64(2 + i%4), Person: i % 2,
			Low: training.Known(rate[i] * .4), High: training.Known(min(2, rate[i]*2))})
	}
	c.Lines = []Line{l}
	return c
}

func card() Card {
	k := training.Known
	return Card{Name: "Sorrel", When: "Friday 20 March, day 19 of the stay", NewHead: "New this week",
		New: []string{"Comes off leash on mill lane.", "First lesson with Mr Venn."}, Foot: "Where a bar is pale we are not sure yet. The dashed mark is what we agreed.",
		Cues: []CardCue{
			{"come", "Answers 19 of 20 first asks for us, 11 of 20 for others", Bar{k(.56), k(.4), k(.72), k(.85), "come"}},
			{"down", "Answers 19 of 20 first asks", Bar{k(.93), k(.88), k(.97), k(.85), "down"}},
			{"sit", "Answers 9 of 10 first asks", Bar{k(.86), k(.8), k(.97), k(.85), "sit"}},
			{"heel", "One break in three minutes", Bar{k(.7), k(.6), k(.8), k(.65), "heel"}},
		}}
}

var examples = map[string]func() Chart{"gorse": gorse, "sorrel": sorrel, "thistle": thistle, "heel": heel}
