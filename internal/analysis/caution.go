package analysis

import (
	"slices"
	"strings"

	"firstcue/internal/training"
)

// CautionCode names a caution. A code never changes its meaning.
type CautionCode string

// The cautions, gravest first.
const (
	CautionBite              CautionCode = "bite"
	CautionStress            CautionCode = "stress"     // fear, pain or aggression: an open incident
	CautionCollarOff         CautionCode = "collar-off" // an open incident, or a hold of the collar
	CautionHealth            CautionCode = "health"     // slower or refused answers can be pain
	CautionVetHold           CautionCode = "vet-hold"
	CautionTwoForms          CautionCode = "two-forms"      // a session said differently in two stores
	CautionCollarRefused     CautionCode = "collar-refused" // a level was logged that must not be used
	CautionCorrectionsRising CautionCode = "corrections-rising"
	CautionManyCorrections   CautionCode = "many-corrections"
	CautionConfused          CautionCode = "confused" // corrections on wrong answers, or where all was new
	CautionLevelHigh         CautionCode = "level-high"
	CautionWorkingLevel      CautionCode = "working-level" // old, or never noted
	CautionTwoDevices        CautionCode = "two-devices"
	CautionCollarLevels      CautionCode = "collar-levels"
	CautionWear              CautionCode = "wear"
	CautionLaw               CautionCode = "law"
	CautionViews             CautionCode = "views"
	CautionOffLeash          CautionCode = "off-leash"
	CautionVerdict           CautionCode = "verdict" // what "ready" does not promise
)

// CautionWhy says what a fact is.
type CautionWhy string

// The facts. The fields that each fills are given with it.
const (
	FactIncident   CautionWhy = "open incident"                // Day, Text
	FactAfter      CautionWhy = "corrected after incident"     // Day (last), Count
	FactSlower     CautionWhy = "slower"                       // Cue, Before, Now, Day
	FactSlipping   CautionWhy = "slipping"                     // Cue, Day
	FactLost       CautionWhy = "lost"                         // Cue, Day
	FactFell       CautionWhy = "fell before hold"             // Day, Count of Of
	FactHold       CautionWhy = "on hold"                      // Day, Text
	FactInHold     CautionWhy = "logged in hold"               // Count
	FactTwoForms   CautionWhy = "two forms"                    // Day
	FactRewardOnly CautionWhy = "reward only"                  // Day
	FactYoung      CautionWhy = "under six months"             // Day
	FactNoCollar   CautionWhy = "no collar by the vet"         // Day
	FactNoDevice   CautionWhy = "level without device"         // Day
	FactMoreTrials CautionWhy = "more trials corrected"        // Cue
	FactDialRuns   CautionWhy = "dial up in a row"             // Cue, Device, Count
	FactDialRises  CautionWhy = "dial rising"                  // Cue, Device
	FactManyOnOne  CautionWhy = "many on one ask"              // Cue, Day, Count
	FactManyInAll  CautionWhy = "many in a session"            // Day, Person, Count of Of
	FactAfterWrong CautionWhy = "corrected after wrong answer" // Cue, Day
	FactAllNew     CautionWhy = "corrected where new"          // Day, Person, Place
	FactHigh       CautionWhy = "above working level"          // Day, Device, Level, Working
	FactNoWorking  CautionWhy = "no working level"             // Device
	FactOldWorking CautionWhy = "old working level"            // Device, Day (found)
	FactDevices    CautionWhy = "several devices"              // Cue, Device: one fact each
	FactCollarUsed CautionWhy = "collar on record"             // Day (last)
	FactOffLeash   CautionWhy = "off leash on record"          // Day (last)
	FactAlways     CautionWhy = "always"
)

// workingLevelDays is how old a working level may be.
const workingLevelDays = 7

// youngDays is six months: the least age that makers' leaflets give for collars.
const youngDays = 183

// cautionOrder is gravest first.
var cautionOrder = []CautionCode{
	CautionBite, CautionStress, CautionCollarOff, CautionHealth, CautionVetHold, CautionTwoForms,
	CautionCollarRefused,
	CautionCorrectionsRising, CautionManyCorrections, CautionConfused, CautionLevelHigh, CautionWorkingLevel,
	CautionTwoDevices, CautionCollarLevels, CautionWear, CautionLaw, CautionViews, CautionOffLeash,
	CautionVerdict,
}

// minder gathers cautions.
type minder struct {
	a     *Assessment
	facts map[CautionCode][]CautionFact
	today map[CautionCode]bool
}

// say adds a fact; now: it applies today.
func (m *minder) say(code CautionCode, now bool, f CautionFact) {
	if !slices.Contains(m.facts[code], f) {
		m.facts[code] = append(m.facts[code], f)
	}
	m.today[code] = m.today[code] || now
}

// cautions lists those that matter for this dog, gravest first, each with the facts
// that call for it, newest last. The last caution is always there.
func (sc *scene) cautions(a *Assessment) []Caution {
	m := &minder{a: a, facts: map[CautionCode][]CautionFact{}, today: map[CautionCode]bool{}}
	m.incidents()
	m.health()
	for _, s := range a.Unsettled {
		m.say(CautionTwoForms, true, CautionFact{Why: FactTwoForms, Day: s.Day})
	}
	for i := range a.Cues {
		m.corrections(&a.Cues[i])
	}
	collar := m.sessions(sc)
	if collar != 0 || a.Dog.Device != "" && !a.Dog.RewardOnly {
		for _, code := range []CautionCode{CautionCollarLevels, CautionWear, CautionLaw, CautionViews} {
			m.say(code, collar == a.Day && code != CautionViews,
				CautionFact{Why: FactCollarUsed, Day: collar})
		}
	}
	m.say(CautionVerdict, a.Verdict == Ready, CautionFact{Why: FactAlways})
	var out []Caution
	for _, code := range cautionOrder {
		if len(m.facts[code]) > 0 {
			stop := code == CautionBite || code == CautionStress || code == CautionVetHold && a.heldWhole()
			out = append(out, Caution{Code: code, Today: m.today[code], Stop: stop, Facts: m.facts[code]})
		}
	}
	return out
}

func (m *minder) incidents() {
	for _, i := range m.a.Incidents {
		fact := CautionFact{Why: FactIncident, Day: i.Day, Text: i.Text}
		m.say(CautionStress, true, fact)
		m.say(CautionCollarOff, true, fact)
		if i.After != nil {
			m.say(CautionStress, true, CautionFact{Why: FactAfter, Day: i.After.Last, Count: i.After.Count})
		}
		for _, w := range strings.FieldsFunc(strings.ToLower(i.Text),
			func(r rune) bool { return r < 'a' || r > 'z' }) {
			switch w {
			case "bite", "bit", "bites", "bitten", "biting", "snap", "snapped", "snaps", "snapping":
				m.say(CautionBite, true, fact)
			}
		}
	}
}

// health: slower or refused answers, holds, and what was there and is lost.
func (m *minder) health() {
	for i := range m.a.Cues {
		c := &m.a.Cues[i]
		if l := c.Latency; l != nil && l.Doubled {
			m.say(CautionHealth, true, CautionFact{Why: FactSlower, Cue: c.Cue, Before: l.Baseline,
				Now: l.Recent, Day: l.DoubledOn})
		}
		switch {
		case c.Slipping.On:
			m.say(CautionHealth, true, CautionFact{Why: FactSlipping, Cue: c.Cue, Day: c.Slipping.Since})
		case c.Lost != 0:
			m.say(CautionHealth, true, CautionFact{Why: FactLost, Cue: c.Cue, Day: c.Lost})
		}
	}
	if f := m.a.Fall; f != nil {
		m.say(CautionHealth, true, CautionFact{Why: FactFell, Day: f.From, Count: f.During.Answered,
			Of: f.During.Asks})
	}
	for _, h := range m.a.Holds {
		fact := CautionFact{Why: FactHold, Day: h.From, Text: h.Reason}
		m.say(CautionVetHold, true, fact)
		if h.NoCollar || h.CollarOnly {
			m.say(CautionCollarOff, true, fact)
		}
	}
}

func (m *minder) corrections(c *CueAssessment) {
	if c.Corrections.Trend.Direction == Rising {
		m.say(CautionCorrectionsRising, true, CautionFact{Why: FactMoreTrials, Cue: c.Cue})
	}
	for _, d := range c.Corrections.Devices {
		if d.Rises >= 3 {
			m.say(CautionCorrectionsRising, true, CautionFact{Why: FactDialRuns, Cue: c.Cue,
				Device: d.Device, Count: d.Rises})
		}
		if d.Trend.Direction == Rising {
			m.say(CautionCorrectionsRising, true, CautionFact{Why: FactDialRises, Cue: c.Cue,
				Device: d.Device})
		}
		if len(c.Corrections.Devices) > 1 {
			m.say(CautionTwoDevices, false, CautionFact{Why: FactDevices, Cue: c.Cue, Device: d.Device})
		}
	}
}

// sessions looks through the sessions themselves, those in a hold too, and returns the
// last day with a collar level.
func (m *minder) sessions(sc *scene) (collar training.Day) {
	inHold := 0
	working := map[string]training.Day{}
	people, places := map[string]bool{}, map[string]bool{}
	list := sc.ordered()
	for n, s := range list {
		d := s.Day()
		fresh := n > 0 && (!people[training.Key(s.Handler)] || !places[training.Key(s.Place)])
		people[training.Key(s.Handler)], places[training.Key(s.Place)] = true, true
		if s.WorkingLevel.Known {
			working[training.Key(s.Device)] = d
		}
		if s.Leash == offLeash {
			m.say(CautionOffLeash, d == m.a.Day, CautionFact{Why: FactOffLeash})
		}
		trials, corrected := 0, 0
		for i := range s.Trials {
			t := &s.Trials[i]
			if sc.heldOn(d, sc.cueName(t.Cue)) {
				inHold += t.Count()
			}
			if knownCorrections(*t) {
				trials++
				corrected += one(len(t.Corrections) > 0)
			}
			if m.trial(sc, s, t, working, n >= len(list)-3) {
				collar = max(collar, d)
			}
		}
		who, where := sc.personName(s.Handler), sc.placeName(s.Place)
		if corrected > 0 && fresh {
			m.say(CautionConfused, d == m.a.Day, CautionFact{Why: FactAllNew, Day: d, Person: who,
				Place: where})
		}
		if trials >= 4 && 4*corrected > trials {
			m.say(CautionManyCorrections, d == m.a.Day,
				CautionFact{Why: FactManyInAll, Day: d, Person: who, Count: corrected, Of: trials})
		}
	}
	if inHold > 0 {
		m.say(CautionVetHold, false, CautionFact{Why: FactInHold, Count: inHold})
	}
	return collar
}

// trial looks at one trial's corrections; lately: what is long past needs no new
// working level. It reports whether a collar was used.
func (m *minder) trial(sc *scene, s *training.Session, t *training.Trial, working map[string]training.Day,
	lately bool) bool {
	d, dog, used := s.Day(), sc.rec.Dog, false
	now := d == m.a.Day
	if len(t.Corrections) > 2 {
		m.say(CautionManyCorrections, now, CautionFact{Why: FactManyOnOne, Cue: t.Cue, Day: d,
			Count: len(t.Corrections)})
	}
	if len(t.Corrections) > 0 && t.Did != "" {
		m.say(CautionConfused, now, CautionFact{Why: FactAfterWrong, Cue: t.Cue, Day: d})
	}
	for _, c := range t.Corrections {
		if c.Kind != training.ByCollar && !c.Level.Known {
			continue
		}
		used = true
		refuse := func(why CautionWhy) { m.say(CautionCollarRefused, now, CautionFact{Why: why, Day: d}) }
		switch {
		case dog.RewardOnly:
			refuse(FactRewardOnly)
		case dog.Born != 0 && d-dog.Born < youngDays:
			refuse(FactYoung)
		case slices.ContainsFunc(dog.Holds, func(h training.VetHold) bool {
			return h.From <= sc.day &&
				h.ForbidsCollar(d)
		}):
			refuse(FactNoCollar)
		case c.Level.Known && c.Device == "":
			refuse(FactNoDevice)
		}
		if s.WorkingLevel.Known && c.Level.Known && training.Key(s.Device) == training.Key(c.Device) &&
			c.Level.V > s.WorkingLevel.V+max(3, s.WorkingLevel.V/2) {
			m.say(CautionLevelHigh, now, CautionFact{Why: FactHigh, Day: d, Device: c.Device,
				Level: c.Level, Working: s.WorkingLevel})
		}
		if c.Level.Known && lately {
			if w, ok := working[training.Key(c.Device)]; !ok {
				m.say(CautionWorkingLevel, true, CautionFact{Why: FactNoWorking, Device: c.Device})
			} else if d-w > workingLevelDays {
				m.say(CautionWorkingLevel, true, CautionFact{Why: FactOldWorking, Device: c.Device, Day: w})
			}
		}
	}
	return used
}
