package report

import (
	"io"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// Progress draws the course of several cues for a terminal, one below the other,
// under the dog's name and the day.
func Progress(w io.Writer, a analysis.Assessment, cues []analysis.CueAssessment, o Options) error {
	for _, l := range wrapLines(say.Plain(a.Dog.Name)+", up to "+say.LongDay(a.AsOf), o.prose()) {
		if _, err := io.WriteString(w, bold(l, o)+"\n"); err != nil {
			return err
		}
	}
	for _, c := range cues {
		if _, err := io.WriteString(w, "\n"); err != nil {
			return err
		}
		if err := ChartText(w, a, c, o); err != nil {
			return err
		}
	}
	return nil
}

type jsonProgress struct {
	Schema    string        `json:"schema"`
	Generated string        `json:"generated,omitempty"`
	Dog       string        `json:"dog"`
	DogID     string        `json:"dogId"`
	AsOf      training.Day  `json:"asOf"`
	Cues      []jsonCourse  `json:"cues"`
	VetHolds  []jsonVetHold `json:"vetHolds"`
}

type jsonCourse struct {
	Cue    string       `json:"cue"`
	Kind   string       `json:"kind"`
	Agreed bool         `json:"agreed"`
	Bar    training.Num `json:"bar"`
	Target training.Num `json:"target"`
	Days   []jsonDay    `json:"days"`
}

// ProgressJSON writes the course of several cues for scripts, schema
// firstcue.progress/1. The bar is the share of first asks, or for a motion the
// breaks a minute.
func ProgressJSON(w io.Writer, a analysis.Assessment, cues []analysis.CueAssessment, o Options) error {
	j := jsonProgress{Schema: "firstcue.progress/1", Generated: generated(o.Generated), Dog: a.Dog.Name, DogID: a.Dog.ID, AsOf: a.AsOf,
		Cues: []jsonCourse{}, VetHolds: []jsonVetHold{}}
	for _, c := range cues {
		q := jsonCourse{Cue: c.Cue, Kind: string(c.Kind), Agreed: c.Agreed, Days: []jsonDay{}, Bar: training.Known(c.Criteria.Rate)}
		if c.Kind == training.Motion {
			q.Bar = finite(c.Criteria.Breaks)
		}
		if c.Hold != nil {
			q.Target = finite(c.Hold.Target)
		}
		for _, d := range c.Days3 {
			q.Days = append(q.Days, dayOf(d, c.Kind))
		}
		j.Cues = append(j.Cues, q)
	}
	for _, h := range a.Dog.Holds {
		j.VetHolds = append(j.VetHolds, jsonVetHold{h.From, h.To, h.Reason, list(h.Cues), h.NoCollar || h.CollarOnly, h.CollarOnly})
	}
	return writeJSON(w, j)
}
