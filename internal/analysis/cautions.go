package analysis

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"firstcue/internal/training"
)

// The caution texts, by code. A code never changes its meaning. They are in our
// own words and go where they matter; none of them is advice to raise a level,
// and all defer to the owner's vet, to local law and to qualified people.
var cautionTexts = []struct{ code, text string }{
	{"stress", "Fear, pain or aggression may be behind this. Stop the exercise and write down what happened. No corrections until somebody competent has looked at the dog."},
	{"bite", "Any bite, or an attempt, ends the session. Follow the local duty to report and medical advice."},
	{"health", "Slower or refused answers can be pain. This record cannot tell. Ask the owner's vet before going on."},
	{"vet-hold", "The dog, or some of its cues, is on hold for the vet. What was logged inside the hold counts nowhere."},
	{"two-forms", "A session was said differently in two stores. The figures rest on one of the two. Look at both and choose: firstcue store conflicts."},
	{"collar-refused", "A collar level was logged although it must not be used on this dog. Check it with the owner, and the vet where one is involved, before another session."},
	{"corrections-rising", "More or stronger corrections with no better result. Make the task easier or the place quieter. If it goes on, stop and get help from a vet or a qualified behaviour professional."},
	{"many-corrections", "Many corrections in one session. Make the task easier or the place quieter."},
	{"confused", "Corrections fell on wrong answers or on a first session with a new person or place. The dog may not know yet what is asked: teach it again there."},
	{"level-high", "A level well above the one found that day was used. Check fit, contacts and coat first, and make the task easier."},
	{"working-level", "The working level is more than a week old, or was never noted. Find it again before relying on it: the lowest the dog notices today."},
	{"two-devices", "Levels of different devices are shown apart. They cannot be compared or averaged."},
	{"collar-levels", "Dial numbers mean nothing on another device, and can change on this one when the coat is wet or the contacts move. Compare only with this dog's own working level, found today."},
	{"wear", "Take the collar off for rest, move it every hour or two, look at the skin every day, never clip a lead to it, and follow the maker's limit where it is shorter."},
	{"law", "Some countries and regions forbid or restrict these collars, and rules change. Check the law where the dog is trained and where it will live. This program does not know it."},
	{"views", "Veterinary behaviour bodies advise reward-based training and oppose or discourage electronic collars. A level recorded here is not a recommendation."},
	{"off-leash", "Numbers from a fenced field do not promise safety near traffic, livestock, children or other dogs. Obey leash laws and get the landowner's permission."},
	{"verdict", "'Ready' means that the agreed rule was met in the places and with the people listed. It is no guarantee of what the dog will do and no test of safety or temperament."},
}

// workingLevelDays is how old a working level may be.
const workingLevelDays = 7

// youngDays is six months: the least age that makers' leaflets give for collars.
const youngDays = 183

// cautions lists the cautions that matter for this dog, gravest first, each
// with why it is shown. The last one is always shown.
func cautions(a Assessment, sc *scene) []Caution {
	why := map[string][]string{}
	say := func(code, reason string) {
		if !slices.Contains(why[code], reason) {
			why[code] = append(why[code], reason)
		}
	}
	for _, i := range a.Incidents {
		say("stress", fmt.Sprintf("open incident of %s: %s", dayWords(i.Day), i.Text))
		for _, w := range strings.FieldsFunc(strings.ToLower(i.Text), func(r rune) bool { return r < 'a' || r > 'z' }) {
			switch w {
			case "bite", "bit", "bites", "bitten", "biting", "snap", "snapped", "snaps", "snapping":
				say("bite", fmt.Sprintf("incident of %s", dayWords(i.Day)))
			}
		}
	}
	for _, s := range a.Unsettled {
		say("two-forms", "session of "+s.Start.Format("Mon 2 Jan 15:04"))
	}
	collar := training.Day(0)
	for _, c := range a.Cues {
		if c.Latency != nil && c.Latency.Doubled {
			say("health", fmt.Sprintf("%s: median answer %s s, %s s before, since %s", c.Cue, figure(c.Latency.Last.V, 1), figure(c.Latency.Baseline.V, 1), dayWords(c.Latency.DoubledOn)))
		}
		if c.Alarm.On {
			say("health", c.Cue+": more asks refused than before, since "+dayWords(c.Alarm.Since))
		} else if c.Lost != 0 {
			say("health", c.Cue+": the level was there and was lost on "+dayWords(c.Lost))
		}
		if c.Corrections.Trend.Direction == rising {
			say("corrections-rising", c.Cue+": more trials are corrected")
		}
		for _, d := range c.Corrections.Devices {
			if d.Rises >= 3 {
				say("corrections-rising", fmt.Sprintf("%s: the level on %s went up %d sessions running", c.Cue, d.Device, d.Rises))
			}
			if d.Trend.Direction == rising {
				say("corrections-rising", c.Cue+": the level on "+d.Device+" is rising")
			}
		}
		if len(c.Corrections.Devices) > 1 {
			var names []string
			for _, d := range c.Corrections.Devices {
				names = append(names, d.Device)
			}
			say("two-devices", c.Cue+": "+list(names))
		}
	}
	for _, h := range a.Holds {
		if h.Reason != "" {
			say("vet-hold", "on hold since "+h.From.String()+": "+h.Reason)
		} else {
			say("vet-hold", "on hold since "+h.From.String())
		}
	}
	sc.sessionCautions(say, &collar)
	if collar != 0 || a.Dog.Device != "" && !a.Dog.RewardOnly {
		reason := "a collar is used in this record"
		for _, code := range []string{"collar-levels", "wear", "law", "views"} {
			say(code, reason)
		}
	}
	say("verdict", "shown with every verdict")
	var out []Caution
	for _, t := range cautionTexts {
		if w := why[t.code]; len(w) > 0 {
			const most = 3
			if len(w) > most {
				w = append(w[:most:most], fmt.Sprintf("%d more", len(w)-most))
			}
			if t.code == "vet-hold" && len(a.Holds) == 0 {
				t.text = "Some of this was logged inside a vet hold that is over. It counts nowhere."
			}
			out = append(out, Caution{Code: t.code, Text: t.text, Why: strings.Join(w, "; ")})
		}
	}
	return out
}

// sessionCautions looks through the sessions themselves, those in a hold too.
func (sc *scene) sessionCautions(say func(code, reason string), collar *training.Day) {
	dog := sc.rec.Dog
	inHold := 0
	working := map[string]training.Day{}
	knownH, knownP := map[string]bool{}, map[string]bool{}
	list := sc.ordered()
	for n, s := range list {
		d := s.Day()
		newWho, newWhere := !knownH[training.Key(s.Handler)], !knownP[training.Key(s.Place)]
		knownH[training.Key(s.Handler)], knownP[training.Key(s.Place)] = true, true
		if s.WorkingLevel.Known {
			working[training.Key(s.Device)] = d
		}
		if s.Leash == "off" {
			say("off-leash", "sessions off leash")
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
			if len(t.Corrections) > 2 {
				say("many-corrections", fmt.Sprintf("%d on one %s of %s", len(t.Corrections), t.Cue, d))
			}
			if len(t.Corrections) > 0 && t.Did != "" {
				say("confused", fmt.Sprintf("%s of %s: corrected after a wrong answer", t.Cue, d))
			}
			for _, c := range t.Corrections {
				if c.Kind != training.ByCollar && !c.Level.Known {
					continue
				}
				*collar = max(*collar, d)
				switch {
				case dog.RewardOnly:
					say("collar-refused", fmt.Sprintf("%s: the dog is trained with rewards only", d))
				case dog.Born != 0 && d-dog.Born < youngDays:
					say("collar-refused", fmt.Sprintf("%s: under six months old", d))
				case slices.ContainsFunc(dog.Holds, func(h training.VetHold) bool { return h.From <= sc.day && h.ForbidsCollar(d) }):
					say("collar-refused", fmt.Sprintf("%s: no collar while the vet's hold lasts", d))
				case c.Level.Known && c.Device == "":
					say("collar-refused", fmt.Sprintf("%s: a level without a device", d))
				}
				if s.WorkingLevel.Known && c.Level.Known && training.Key(s.Device) == training.Key(c.Device) &&
					c.Level.V > s.WorkingLevel.V+math.Max(3, s.WorkingLevel.V/2) {
					say("level-high", fmt.Sprintf("%s: %s with a working level of %s on %s", d, plain(c.Level.V), plain(s.WorkingLevel.V), c.Device))
				}
				// What is long past needs no new working level.
				if c.Level.Known && n >= len(list)-3 {
					if w, ok := working[training.Key(c.Device)]; !ok {
						say("working-level", "none noted for "+c.Device)
					} else if d-w > workingLevelDays {
						say("working-level", fmt.Sprintf("%s: found on %s, used on %s", c.Device, w, d))
					}
				}
			}
		}
		if n > 0 && corrected > 0 && (newWho || newWhere) {
			say("confused", fmt.Sprintf("%s: corrected in the first session with %s at %s", d, s.Handler, s.Place))
		}
		if trials >= 4 && 4*corrected > trials {
			say("many-corrections", fmt.Sprintf("%s: %d of %d trials with %s", d, corrected, trials, s.Handler))
		}
	}
	if inHold > 0 {
		say("vet-hold", count(inHold, "trial")+" logged inside a hold")
	}
}
