package analysis

import (
	"math"

	"firstcue/internal/stats"
	"firstcue/internal/training"
)

// ScorerAgreement is how two scorings of one session compare, trial by trial.
// Equal totals are not agreement and are not given.
type ScorerAgreement struct {
	Rule     Rule `json:"rule"`
	Compared int  `json:"compared"` // trials that both scored
	Agreed   int  `json:"agreed"`
	// Rate is Agreed of Compared with its Wilson interval; unknown when nothing could
	// be compared.
	Rate training.Num `json:"rate"`
	Low  training.Num `json:"low"`
	High training.Num `json:"high"`
	// Kappa is agreement beyond chance with its 95 % interval. It is unknown when
	// either of them gave one answer only (kappa would be 0 with a standard error of
	// 0, whatever the other saw), and its interval is unknown when they agree
	// throughout (its standard error would be 0).
	Kappa     training.Num `json:"kappa"`
	KappaLow  training.Num `json:"kappaLow"`
	KappaHigh training.Num `json:"kappaHigh"`
	Enough    bool         `json:"enough"` // the convention: at least 80 % agreement
	Pairs     []ScoredPair `json:"-"`      // every trial of either scoring, in order
	Differ    []ScoredPair `json:"-"`      // those that the two scored differently
	// OneSided counts trials that only one of them could score, or saw at all.
	OneSided int `json:"oneSided"`
	// Apart counts early answers and dogs already in position: not trials, so not
	// compared. Tallies and walks cannot be compared trial by trial. Each is the
	// count of the scoring that has more of them.
	Apart   int `json:"apart"`
	Tallied int `json:"tallied"`
	Walks   int `json:"walks"`
	// BothTimed counts trials with a latency from both, WithinOne those that differ
	// by at most one second.
	BothTimed int `json:"bothTimed"`
	WithinOne int `json:"withinOneSecond"`
}

// ScoredPair is one trial as two people scored it. A nil side did not see it.
type ScoredPair struct {
	Number int // 1 = first trial of the first scoring (of the second, where only that has it)
	Cue    string
	A, B   *training.Trial
	AYes   training.Num // 1 yes, 0 no, unknown = not scored
	BYes   training.Num
}

// agreementShare is the usual convention for trial-by-trial agreement: 80 %,
// checked on at least 20 % of sessions.
const agreementShare = 0.80

// Agreement compares two scorings of one session under a counting rule. Trials
// are matched in order, cue by cue, so that one that a scorer missed shifts
// nothing; among equally good matches the one with more agreement is taken.
func Agreement(a, b training.Session, rule Rule) ScorerAgreement {
	r := ScorerAgreement{Rule: rule}
	ta, tb := r.comparable(a), r.comparable(b)
	score := func(t *training.Trial) training.Num {
		yes, of := FirstCueUnder(*t, rule)
		if of == 0 {
			return training.Num{}
		}
		return training.Known(float64(yes))
	}
	// Longest common sequence of cues, by weight: a match is worth far more
	// than any number of agreements.
	n, m := len(ta), len(tb)
	big := float64(n + m + 1)
	best := make([][]float64, n+1)
	for i := range best {
		best[i] = make([]float64, m+1)
	}
	worth := func(i, j int) float64 {
		if training.Key(ta[i].Cue) != training.Key(tb[j].Cue) {
			return math.Inf(-1)
		}
		if score(ta[i]) == score(tb[j]) {
			return big + 1
		}
		return big
	}
	for i := n - 1; i >= 0; i-- {
		for j := m - 1; j >= 0; j-- {
			best[i][j] = max(best[i+1][j], best[i][j+1], best[i+1][j+1]+worth(i, j))
		}
	}
	var table [2][2]float64
	for i, j := 0, 0; i < n || j < m; {
		var p ScoredPair
		switch {
		case i < n && j < m && best[i][j] == best[i+1][j+1]+worth(i, j):
			p = ScoredPair{Number: i + 1, Cue: ta[i].Cue, A: ta[i], B: tb[j], AYes: score(ta[i]),
				BYes: score(tb[j])}
			i++
			j++
		case j == m || i < n && best[i][j] == best[i+1][j]:
			p = ScoredPair{Number: i + 1, Cue: ta[i].Cue, A: ta[i], AYes: score(ta[i])}
			i++
		default:
			p = ScoredPair{Number: j + 1, Cue: tb[j].Cue, B: tb[j], BYes: score(tb[j])}
			j++
		}
		r.Pairs = append(r.Pairs, p)
		if !p.AYes.Known || !p.BYes.Known {
			r.OneSided += one(p.AYes.Known || p.BYes.Known)
		} else {
			r.Compared++
			table[1-int(p.AYes.V)][1-int(p.BYes.V)]++
			if p.AYes == p.BYes {
				r.Agreed++
			} else {
				r.Differ = append(r.Differ, p)
			}
		}
		if p.A != nil && p.B != nil && p.A.Latency.Known && p.B.Latency.Known {
			r.BothTimed++
			r.WithinOne += one(math.Abs(p.A.Latency.V-p.B.Latency.V) <= 1+1e-9)
		}
	}
	if r.Compared == 0 {
		return r
	}
	k := must(stats.Kappa([][]float64{table[0][:], table[1][:]}, 0.95))
	r.Rate, r.Low, r.High = training.Known(k.Agree), training.Known(k.AgreeLower),
		training.Known(k.AgreeUpper)
	if mixed(table) {
		r.Kappa = num(k.Kappa)
	}
	if r.Kappa.Known && r.Agreed < r.Compared {
		r.KappaLow, r.KappaHigh = num(k.Lower), num(k.Upper)
	}
	r.Enough = k.Agree >= agreementShare
	return r
}

// mixed reports that both scorers gave both answers.
func mixed(table [2][2]float64) bool {
	for i := range 2 {
		if table[i][0]+table[i][1] == 0 || table[0][i]+table[1][i] == 0 {
			return false
		}
	}
	return true
}

// comparable lists the trials that can be compared one by one, and counts the
// others: of the scoring that has more of them, as both saw one session.
func (r *ScorerAgreement) comparable(s training.Session) []*training.Trial {
	var out []*training.Trial
	apart, tallied, walks := 0, 0, 0
	for i := range s.Trials {
		t := &s.Trials[i]
		switch t.Outcome {
		case training.Early, training.Already:
			apart++
		case training.Counted:
			tallied += t.Tally.Of
		case training.Walked:
			walks++
		default:
			out = append(out, t)
		}
	}
	r.Apart, r.Tallied, r.Walks = max(r.Apart, apart), max(r.Tallied, tallied), max(r.Walks, walks)
	return out
}
