package say

import (
	"strings"

	"firstcue/internal/training"
)

// Goal puts an agreed goal into words: "come, off leash, at the mill, for Mrs Oake, 90 %".
func Goal(g training.Goal) string {
	parts := []string{Plain(g.Cue)}
	if g.Hold.Known {
		parts = append(parts, "for "+Clock(g.Hold.V))
	}
	if g.Leash != "" {
		parts = append(parts, Leash(g.Leash))
	}
	if g.Place != "" {
		parts = append(parts, At(g.Place))
	}
	if g.Handler != "" {
		parts = append(parts, "asked by "+Plain(g.Handler))
	}
	if g.Distraction.Known {
		parts = append(parts, "distraction "+Number(g.Distraction.V))
	}
	if g.Bar.Known {
		parts = append(parts, Number(100*g.Bar.V)+"%")
	}
	return strings.Join(parts, ", ")
}

// Wish is the goal as it is wished, without its share: "off leash at the mill".
func Wish(g training.Goal) string {
	var parts []string
	if g.Leash != "" {
		parts = append(parts, Leash(g.Leash))
	}
	if g.Place != "" {
		parts = append(parts, At(g.Place))
	}
	if g.Handler != "" {
		parts = append(parts, "with "+Plain(g.Handler))
	}
	if g.Hold.Known {
		parts = append(parts, "for "+Clock(g.Hold.V))
	}
	if len(parts) == 0 {
		return Plain(g.Cue)
	}
	return Plain(g.Cue) + " " + strings.Join(parts, " ")
}

// At puts "at" before a place, unless the name brings its own word.
func At(place string) string {
	place = Plain(place)
	first, _, _ := strings.Cut(strings.ToLower(place), " ")
	switch first {
	case "at", "in", "on", "by", "near":
		return place
	}
	return "at " + place
}
