package report

import (
	"io"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// OwnersTrials returns copies of the sessions as their owner may have them:
// people who do not train the dog stand without their names, and the names of
// other dogs and owners are taken out of every text. Notes, remarks and the
// reasons of withdrawals are left out. The record needs the whole kennel: a name
// that it does not hold cannot be found.
func OwnersTrials(a analysis.Assessment, r training.Record, sessions []training.Session) []training.Session {
	m := ownersWords(a, r)
	role := func(name string) training.Role {
		if h, ok := r.Kennel.Handler(name); ok {
			return a.Dog.RoleOf(h)
		}
		return training.Trainer
	}
	who := func(name string) string {
		if name == "" {
			return ""
		}
		if role(name) == training.Outsider {
			return m.person(name, training.Outsider)
		}
		return m.say(name)
	}
	out := make([]training.Session, len(sessions))
	for i, s := range sessions {
		s.Handler, s.Scorer = who(s.Handler), who(s.Scorer)
		s.Place, s.Device, s.Weather, s.Reward = m.say(s.Place), m.say(s.Device), m.say(s.Weather), m.say(s.Reward)
		s.Note, s.Carried, s.Remarks, s.Voided = "", "", nil, ""
		trials := s.Trials
		s.Trials = make([]training.Trial, len(trials))
		for j, t := range trials {
			t.Did, t.Marks = m.say(t.Did), m.say(t.Marks)
			prompts := t.Prompts
			t.Prompts = nil
			for _, p := range prompts {
				t.Prompts = append(t.Prompts, m.say(p))
			}
			s.Trials[j] = t
		}
		out[i] = s
	}
	return out
}

// OwnersSummaryCSV is SummaryCSV for the owner: reasons without the names of
// people who do not train the dog, other dogs and other owners.
func OwnersSummaryCSV(w io.Writer, a analysis.Assessment, r training.Record, o CSVOptions) error {
	m := ownersWords(a, r)
	a.Cues = append([]analysis.CueAssessment(nil), a.Cues...)
	for i := range a.Cues {
		a.Cues[i].Reason = m.reason(a.Cues[i])
	}
	return SummaryCSV(w, a, o)
}

func ownersWords(a analysis.Assessment, r training.Record) *packetMaker {
	m := &packetMaker{a: a, r: r, dog: say.Plain(a.Dog.Name)}
	m.findStrangers()
	return m
}
