package report

import (
	_ "embed"
	"html/template"
	"io"
	"slices"
	"strings"
	"sync"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

//go:embed owner.html
var ownerHTML string

//go:embed owner.css
var ownerCSS string

var ownerTemplates = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("owner").Parse(ownerHTML))
})

// OwnerOptions say what an owner's page carries besides the judgement.
type OwnerOptions struct {
	Handoff training.Day // the day the dog goes home; 0 = not known
	Kennel  string       // letterhead
	Contact string       // whom to ask about training
	Vet     string
	AtHome  []string // the owner's own places, for the homework
	Photo   template.URL
}

// ownerHead is what every owner's page begins with.
type ownerHead struct {
	Title, Kennel, Contact string
	CSS                    template.CSS
	Dog, Sub               string
}

func headOf(a analysis.Assessment, o OwnerOptions, title string) ownerHead {
	return ownerHead{Title: title, Kennel: say.Plain(o.Kennel), Contact: say.Plain(o.Contact), CSS: template.CSS(ownerCSS), Dog: say.Plain(a.Name)}
}

// ownerOf names the owner, "the owner" when none is entered.
func ownerOf(a analysis.Assessment) string {
	if len(a.Owner.Names) == 0 {
		return "the owner"
	}
	return say.Names(a.Owner.Names)
}

// agreedCues are the cues that an owner's page is about, in the order of the judgement.
func agreedCues(a analysis.Assessment) []analysis.CueAssessment {
	return slices.DeleteFunc(slices.Clone(a.Cues), func(c analysis.CueAssessment) bool { return counted(c) == 0 })
}

// stopped says that nobody practises: an open incident, or the vet. "" = go on.
func stopped(a analysis.Assessment) string {
	switch {
	case len(a.Incidents) > 0:
		return "No practice until we have spoken. Leave the collar off."
	case a.Verdict == analysis.OnHold:
		s := "No practice until the vet says yes."
		if collarOff(a) {
			s += " Leave the collar off."
		}
		return s
	}
	return ""
}

// OwnersTrials returns copies of the sessions as their owner may have them: people who
// do not train the dog stand without their names, and the kennel's free text is left
// out: notes, remarks, reasons, weather, rewards, what the dog did instead, how it was helped.
func OwnersTrials(a analysis.Assessment, r training.Record, sessions []training.Session) []training.Session {
	who := func(name string) string {
		if h, ok := r.Kennel.Handler(name); ok && a.Dog.RoleOf(h) == training.Outsider {
			return say.Person(name, training.Outsider)
		}
		return name
	}
	out := make([]training.Session, len(sessions))
	for i, s := range sessions {
		s.Handler, s.Scorer = who(s.Handler), who(s.Scorer)
		s.Weather, s.Reward, s.Note, s.Carried, s.Remarks, s.Voided = "", "", "", "", nil, ""
		s.Skin = ""
		s.Links = slices.DeleteFunc(slices.Clone(s.Links), func(l training.Link) bool { return !l.Owner })
		s.Trials = slices.Clone(s.Trials)
		for j := range s.Trials {
			x := &s.Trials[j]
			x.Prompts, x.Marks, x.Line = helped(x.Prompts), "", 0
			if x.Did != "" {
				x.Did = "?"
			}
		}
		out[i] = s
	}
	return out
}

// helped keeps that help was given, not how somebody worded it.
func helped(prompts []string) []string {
	var out []string
	for range prompts {
		out = append(out, "help")
	}
	return out
}

// MessageText writes the short text for the owner's messenger.
func MessageText(w io.Writer, a analysis.Assessment, contact string, week bool) error {
	_, err := io.WriteString(w, strings.Join(wrapLines(say.Message(a, contact, week), 78), "\n")+"\n")
	return err
}
