package main

import (
	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// judge is the shipped judgement of the one cue of a record on an evening.
// Sessions after that day must not enter it; TestLaterSessionsDoNotCount holds
// the shipped code to that.
func judge(rec training.Record, day training.Day) analysis.CueAssessment {
	return judgeBy(rec, shipped(rec), day)
}

func judgeBy(rec training.Record, bars analysis.CriteriaFunc, day training.Day) analysis.CueAssessment {
	for _, c := range analysis.Assess(rec, bars, day).Cues {
		if c.Cue == cueName {
			return c
		}
	}
	return analysis.CueAssessment{}
}

// shipped are the bars of a new kennel.
func shipped(rec training.Record) analysis.CriteriaFunc {
	return func(cue string) analysis.Criteria { return analysis.Resolve(rec.Kennel, nil, dogName, cue) }
}

// verdicts tells, from one judgement of the last evening, the verdict on every
// evening of a stay: the report's own course of the cue, which TestCourseIsNightly
// holds against a judgement on each evening.
func verdicts(c analysis.CueAssessment, nights int) []analysis.Verdict {
	out := make([]analysis.Verdict, nights+1)
	for n := 1; n <= nights; n++ {
		out[n] = out[n-1]
		for _, d := range c.Course {
			if d.Day == night(n) {
				out[n] = d.Verdict
			}
		}
	}
	return out
}

// score is one trial as the rules by eye see it.
type score struct {
	day int
	yes bool
}

func scores(rec training.Record) []score {
	var out []score
	for _, s := range rec.Sessions {
		for _, t := range s.Trials {
			out = append(out, score{int(s.Day()-arrival) + 1, t.Asks == 1 && len(t.Corrections) == 0})
		}
	}
	return out
}

// byEye reports whether at least need of the last n trials up to the evening
// of the day were right: "9 of the last 10".
func byEye(all []score, day, need, n int) bool {
	end := len(all)
	for end > 0 && all[end-1].day > day {
		end--
	}
	if end < n {
		return false
	}
	yes := 0
	for _, s := range all[end-n : end] {
		if s.yes {
			yes++
		}
	}
	return yes >= need
}
