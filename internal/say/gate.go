package say

import (
	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// GateLine says how one gate of a cue stands: the figure that decides it, its counts,
// what must be passed, and what is missing.
func GateLine(g analysis.Gate, kind training.Kind) string {
	s := ""
	if g.Person != "" {
		s = Plain(g.Person) + ": "
	} else if g.Place != "" {
		s = Plain(g.Place) + ": "
	}
	switch g.Name {
	case analysis.GateSpeed:
		s += speed(g)
	case analysis.GateCorrections:
		s += correctionsNow(g, kind)
	default:
		if g.Tally.Asks > 0 || g.Tally.Minutes > 0 {
			s += Counted(g.Tally)
			if now := Now(g.Figure, kind); now != "" {
				s += ", " + now
			}
			if bar := Bar(g.Figure, kind); bar != "" {
				s += "; the bar is " + bar
			}
		}
	}
	if g.Lack != nil {
		if s != "" {
			s += ". "
		}
		s += "Missing: " + Lack(*g.Lack)
	}
	if s == "" {
		return ""
	}
	return Sentence(s)
}

func speed(g analysis.Gate) string {
	if !g.Figure.Now.Known {
		return "not timed"
	}
	s := "half the answers within " + SecondsOf(g.Figure.Now)
	if g.Figure.Low95.Known || g.Figure.High95.Known {
		s += ", likely " + SecondsOf(g.Figure.Low95) + " to " + SecondsOf(g.Figure.High95)
	}
	return s + "; the bar is " + SecondsOf(g.Figure.Bar)
}

func correctionsNow(g analysis.Gate, kind training.Kind) string {
	if !g.Figure.Now.Known {
		return "not noted"
	}
	per := " in ten asks lately"
	if kind == training.Motion {
		per = " a minute lately"
	}
	return Tenths(g.Figure.Now) + per + "; the bar is " + NumberOf(g.Figure.Bar)
}

// Standing says how a gate, a goal, a person or a place stands.
func Standing(s analysis.Standing) string {
	switch s {
	case analysis.Met:
		return "yes"
	case analysis.Failed:
		return "no"
	}
	return "not proven"
}
