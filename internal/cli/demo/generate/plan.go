package main

// The places and people of the invented kennel, in the order a dog meets them.
var (
	home = []string{"paddock", "barn", "orchard"}
	away = []string{"mill lane", "market square"}
)

// between moves from a to b as day goes from 0 to last.
func between(a, b float64, day, last int) float64 {
	if day >= last {
		return b
	}
	return a + (b-a)*float64(day)/float64(last)
}

// where picks a place: at home in the first week, and out on every third visit after.
func where(d, turn int) (place string, out bool) {
	if d >= 5 && (d+turn)%3 == 0 {
		return away[(d/3)%2], true
	}
	return home[(d+turn)%3], false
}

// plan lists the sessions of day d (0 is the first day).
func plan(d int) []visit {
	var out []visit
	for _, v := range [][]visit{tarn(d), sorrel(d), gorse(d), thistle(d), quince(d), nettle(d)} {
		out = append(out, v...)
	}
	return out
}

func leashFor(d int, out bool) string {
	switch {
	case d < 4:
		return "leash"
	case out || d < 8:
		return "long line"
	}
	return "off"
}

// tarn learns quickly and answers anybody.
func tarn(d int) []visit {
	good := between(0.70, 0.985, d, 5)
	place, out := where(d, 0)
	dist := min(d/4, 3)
	asks := func(p float64) []ask {
		a := []ask{
			{cue: "sit", n: 5, good: p},
			{cue: "down", n: 5, good: p},
			{cue: "come", n: 5, good: p, meters: 10 + d/2, signal: []string{"", "whistle"}[d%2]},
		}
		if d >= 3 {
			a = append(a, ask{cue: "stay", n: 4, good: p, target: min(20+d*5, 60)})
		}
		return a
	}
	vs := []visit{{dog: "Tarn", handler: "Ailsa", place: place, at: "09:10", leash: leashFor(d, out), distraction: dist, asks: asks(good)}}
	if d >= 2 && d%2 == 0 {
		p2, o2 := where(d, 1)
		vs = append(vs, visit{dog: "Tarn", handler: "Bram", place: p2, at: "15:30", leash: leashFor(d, o2), distraction: dist, asks: asks(good)})
	}
	if d == 11 || d == 14 || d == 17 {
		vs = append(vs, visit{dog: "Tarn", handler: "Pim", place: "orchard", at: "16:40", leash: "long line", distraction: 2, asks: asks(good)})
	}
	if d >= 15 && d != 17 {
		vs = append(vs, visit{dog: "Tarn", handler: "Mrs Oake", place: []string{"mill lane", "market square"}[d%3%2], at: "17:15", leash: "long line", distraction: 2, asks: asks(0.97)})
	}
	switch d {
	case 0:
		vs[0].remarks = []string{"> baseline, nothing taught yet, pulls to every gate"}
	case 8:
		vs[0].remarks = []string{"> first time off the line in the orchard, stayed with me"}
	case 15:
		vs[len(vs)-1].remarks = []string{"> Mrs Oake says the word once and waits now"}
	}
	return vs
}

// sorrel works beautifully, for Ailsa.
func sorrel(d int) []visit {
	good := between(0.74, 1, d, 5)
	place, out := where(d, 2)
	asks := func(p float64) []ask {
		return []ask{
			{cue: "sit", n: 6, good: min(1, p+0.02), fix: 0},
			{cue: "come", n: 6, good: p, meters: 12},
			{cue: "down", n: 6, good: p},
		}
	}
	vs := []visit{{dog: "Sorrel", handler: "Ailsa", place: place, at: "10:00", leash: leashFor(d, out), distraction: min(d/5+1, 3), asks: asks(good)}}
	if d == 8 || d == 11 || d == 14 || d == 16 {
		p2, o2 := map[int]string{8: "orchard", 11: "barn", 14: "mill lane", 16: "market square"}[d], d >= 14
		who := "Bram"
		if d == 16 {
			who = "Mr Venn"
		}
		a := asks(0.56)
		for i := range a {
			a[i].n = 4
		}
		vs = append(vs, visit{dog: "Sorrel", handler: who, place: p2, at: "14:20", leash: leashFor(d, o2), distraction: 2, asks: a})
	}
	switch d {
	case 9:
		vs[0].remarks = []string{"> best week so far"}
	case 11, 14:
		vs[len(vs)-1].remarks = []string{"> looked past me for Ailsa the whole time"}
	}
	return vs
}

// gorse is corrected more and more, and gets no better for it.
func gorse(d int) []visit {
	if d < 1 {
		return nil
	}
	place, out := where(d, 1)
	fix := between(0.1, 1, d, 16)
	level := 6 + d*2/3
	if d < 4 {
		level = 0
	}
	asks := []ask{
		{cue: "sit", n: 4, good: 0.86, fix: fix * 0.6, level: level},
		{cue: "come", n: 5, good: between(0.72, 0.55, d, 16), fix: fix, level: level, meters: 15},
	}
	if d%2 == 0 {
		asks = append([]ask{{cue: "heel", walk: 150 + 10*d, breaks: 1 + d/4, fix: fix, level: level}}, asks...)
	}
	v := visit{dog: "Gorse", handler: []string{"Bram", "Bram", "Ailsa"}[d%3], place: place, at: "11:05", leash: leashFor(d, out), distraction: min(d/3, 4), asks: asks}
	switch d {
	case 10:
		v.remarks = []string{"> hares in the far hedge, nothing else mattered"}
	case 17:
		v.remarks = []string{"! growled when the collar was put on"}
	}
	return []visit{v}
}

// thistle was doing well until she went sore; the vet has stopped her training.
func thistle(d int) []visit {
	if d < 1 || d > 12 {
		return nil
	}
	place, out := where(d, 2)
	good := between(0.6, 0.95, d, 8)
	if d >= 11 {
		good = 0.5
	}
	v := visit{dog: "Thistle", handler: []string{"Ailsa", "Bram"}[d%2], place: place, at: "13:15", leash: leashFor(d, out), distraction: min(d/4, 2), asks: []ask{
		{cue: "sit", n: 5, good: good},
		{cue: "down", n: 4, good: good},
		{cue: "place", n: 3, good: good, target: min(30+d*8, 120)},
	}}
	if d == 12 {
		v.remarks = []string{"> slow to lie down, got up in two steps. Rang the owner, vet tomorrow"}
	}
	return []visit{v}
}

// quince is trained with rewards only, as her owner asked in writing.
func quince(d int) []visit {
	if d < 4 || d%2 == 1 {
		return nil
	}
	place, out := where(d, 2)
	good := between(0.6, 0.96, d-4, 10)
	v := visit{dog: "Quince", handler: []string{"Ailsa", "Ailsa", "Bram"}[d%3], place: place, at: "15:00", leash: leashFor(d, out), distraction: min(d/5, 3), asks: []ask{
		{cue: "place", n: 4, good: good, target: 60},
		{cue: "leave it", n: 6, good: good},
		{cue: "come", n: 4, good: good, meters: 10},
	}}
	if d == 10 {
		v.remarks = []string{"> chicken on the ground is her hardest thing"}
	}
	return []visit{v}
}

// nettle has only just arrived.
func nettle(d int) []visit {
	if d < 17 {
		return nil
	}
	return []visit{{dog: "Nettle", handler: "Bram", place: "barn", at: "16:00", leash: "leash", distraction: 0, asks: []ask{
		{cue: "sit", n: 4, good: 0.8},
		{cue: "down", n: 3, good: 0.7},
	}}}
}
