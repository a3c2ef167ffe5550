package cli

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"firstcue/internal/analysis"
	"firstcue/internal/note"
	"firstcue/internal/report"
	"firstcue/internal/say"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

// assess judges one dog on one day from the store.
func (a *app) assess(ctx context.Context, s *store.Store, dog string, day training.Day) (analysis.Assessment, training.Record, error) {
	r, err := s.Record(ctx, dog, day)
	if err != nil {
		return analysis.Assessment{}, r, err
	}
	set, err := s.Settings(ctx)
	if err != nil {
		return analysis.Assessment{}, r, err
	}
	return analysis.Assess(r, criteriaFor(r.Kennel, set, r.Dog.Name), day), r, nil
}

// standings judges the dogs as of today; a dog that is not stored yet has none.
func (a *app) standings(ctx context.Context, s *store.Store, dogs []string) (map[string]analysis.Assessment, error) {
	judged, err := a.reckon(ctx, s, dogs)
	if err != nil {
		return nil, err
	}
	return judged(), nil
}

// reckon is standings that has read all it needs when it returns, and judges
// while the caller does something else, such as storing; judged waits for it.
func (a *app) reckon(ctx context.Context, s *store.Store, dogs []string) (judged func() map[string]analysis.Assessment, err error) {
	if len(dogs) == 0 {
		return func() map[string]analysis.Assessment { return nil }, nil
	}
	set, err := s.Settings(ctx)
	if err != nil {
		return nil, err
	}
	today, records := a.today(), map[string]training.Record{}
	for _, name := range dogs {
		r, err := s.Record(ctx, name, today)
		if errors.Is(err, store.ErrUnknown) {
			continue
		}
		if err != nil {
			return nil, err
		}
		records[name] = r
	}
	done := make(chan map[string]analysis.Assessment, 1)
	go func() {
		out := map[string]analysis.Assessment{}
		for name, r := range records {
			out[name] = analysis.Assess(r, criteriaFor(r.Kennel, set, r.Dog.Name), today)
		}
		done <- out
	}()
	return sync.OnceValue(func() map[string]analysis.Assessment { return <-done }), nil
}

// figure is the counts of a cue and its present figure, with where it likely lies:
// "106/118, now 94% [87-98]".
func figure(c analysis.CueAssessment) string {
	counts := say.CountedCue(c)
	if c.Kind == training.Motion || !c.Now.Now.Known {
		return counts
	}
	return counts + ", now " + say.Percent(c.Now.Now.V, c.Now.Bar.V) + " " + say.Ends(c.Now.Low80, c.Now.High80, c.Now.Bar.V)
}

// cueOf finds the judgement of a cue; ok is false when it was never asked.
func cueOf(x analysis.Assessment, cue string) (analysis.CueAssessment, bool) {
	for _, c := range x.Cues {
		if training.Key(c.Cue) == training.Key(cue) {
			return c, true
		}
	}
	return analysis.CueAssessment{}, false
}

// sayLogged says what was stored and what changed for each cue.
func (a *app) sayLogged(ctx context.Context, s *store.Store, done []store.Logged, before, after map[string]analysis.Assessment, o logOptions) error {
	// The cues of the sessions that changed something, by dog, in order of mention.
	touched := map[string][]string{}
	var dogs []string
	count := map[string]int{}
	for _, l := range done {
		count[l.What]++
		if l.What == store.AlreadyStored {
			continue
		}
		d := l.Session.Dog
		if !slices.Contains(dogs, d) {
			dogs = append(dogs, d)
		}
		trials := l.Session.Trials
		if l.Previous != nil {
			trials = append(slices.Clone(l.Previous.Trials), trials...)
		}
		for _, t := range trials {
			if !slices.Contains(touched[d], t.Cue) {
				touched[d] = append(touched[d], t.Cue)
			}
		}
	}
	var changes []changeJSON
	var rows [][]string
	for _, d := range dogs {
		for _, cue := range touched[d] {
			c := changeJSON{Dog: d, Cue: cue}
			if was, ok := cueOf(before[d], cue); ok {
				c.Before, c.NowBefore, c.VerdictBefore = &was.Tally, was.Now.Now, was.Verdict
			}
			if now, ok := cueOf(after[d], cue); ok {
				c.After, c.Now, c.Verdict = &now.Tally, now.Now.Now, now.Verdict
			}
			changes, rows = append(changes, c), append(rows, changeRow(d, cue, before[d], after[d]))
		}
	}
	if o.format == "json" || a.quiet {
		if err := errors.Join(a.sayReplaced(ctx, s, done, o), a.sayDropped(ctx, s, done)); err != nil {
			return err
		}
	}
	if o.format == "json" {
		sessions := []loggedJSON{}
		for _, l := range done {
			sessions = append(sessions, loggedJSON{sessionToJSON(l.Session), strings.ReplaceAll(l.What, " ", "-")})
		}
		return writeFailed(a.json(storedJSON{schema("log"), len(done) - count[store.AlreadyStored], sessions, changes}))
	}
	if a.quiet {
		return nil
	}
	if err := a.printLogged(done); err != nil {
		return err
	}
	if len(rows) > 0 {
		a.printf("\n")
		if err := a.grid(changeHeaders, rows, nil); err != nil {
			return writeFailed(err)
		}
	}
	return a.afterLog(ctx, s, done, dogs, o)
}

// sayReplaced says what an amendment took out, and whether it was put over a
// correction that somebody made by hand.
func (a *app) sayReplaced(ctx context.Context, s *store.Store, done []store.Logged, o logOptions) error {
	tell := a.say
	if a.quiet {
		tell = a.warn
	}
	for _, l := range done {
		if l.What != store.Amended || l.Previous == nil {
			continue
		}
		of := ""
		if len(done) > 1 {
			of = " (session " + report.ShortID(l.Session.ID) + ")"
		}
		if out := takenOut(*l.Previous, l.Session); out != "" {
			tell("taken out: %s%s", out, of)
		}
		if !o.note {
			continue // an amendment shows the text it is about, a single trial adds to it
		}
		all, err := s.History(ctx, l.Session.ID)
		if err != nil {
			return err
		}
		for _, r := range all {
			if r.Number == l.Previous.Revision && r.Kind == "amend" {
				tell("this replaces the correction of %s%s", a.whenAndWhy(r), of)
				break
			}
		}
	}
	return nil
}

// whenAndWhy is the time of a form of a session, and the reason if one was given.
func (a *app) whenAndWhy(r store.Revision) string {
	if r.Why == "" {
		return a.moment(r.At)
	}
	return fmt.Sprintf("%s (%q)", a.moment(r.At), printable(r.Why))
}

// sayUnsettled says of which of the sessions two stores told different things: a
// log settles nothing.
func (a *app) sayUnsettled(ctx context.Context, s *store.Store, done []store.Logged) error {
	if len(done) > manySessions {
		return nil // nightly and store check name them
	}
	for _, l := range done {
		forms, err := s.Forms(ctx, l.Session.ID)
		if err != nil {
			return err
		}
		if len(forms) > 0 {
			id := report.ShortID(l.Session.ID)
			a.warn("two stores said session %s differently, and that is still to settle: firstcue session history %s", id, id)
		}
	}
	return nil
}

// moment is a time as people say it: of today only the clock.
func (a *app) moment(t time.Time) string {
	t = t.In(a.env.Now().Location())
	if training.DayOf(t) == a.today() {
		return t.Format("15:04")
	}
	return t.Format("2006-01-02 15:04")
}

// takenOut says how many trials of each cue a session had more before.
func takenOut(was, now training.Session) string {
	count := func(s training.Session, cue string) (n int) {
		for _, t := range s.Trials {
			if training.Key(t.Cue) == training.Key(cue) {
				n += t.Count()
			}
		}
		return n
	}
	var parts, seen []string
	for _, t := range was.Trials {
		if slices.Contains(seen, t.Cue) {
			continue
		}
		seen = append(seen, t.Cue)
		if n := count(was, t.Cue) - count(now, t.Cue); n > 0 {
			parts = append(parts, fmt.Sprintf("%s %d", t.Cue, n))
		}
	}
	return strings.Join(parts, ", ")
}

// sayDropped says which open incidents a session told of before and no longer
// does: they stay open.
func (a *app) sayDropped(ctx context.Context, s *store.Store, done []store.Logged) error {
	for _, l := range done {
		if l.Previous == nil || l.Previous.Voided != "" {
			continue
		}
		list, err := s.Incidents(ctx, l.Session.Dog)
		if errors.Is(err, store.ErrUnknown) {
			continue // an undo took the dog off the lists; one with an incident stays
		}
		if err != nil {
			return err
		}
		for _, i := range list {
			said := slices.ContainsFunc(l.Previous.Remarks, func(m training.Remark) bool { return m.Incident && m.Text == i.Text })
			if i.Session != l.Session.ID || i.Closed != 0 || !i.Dropped || !said {
				continue
			}
			what := fmt.Sprintf("the note no longer has %q", printable(i.Text))
			if l.Session.Voided != "" {
				what = fmt.Sprintf("the session is withdrawn; it told of %q", printable(i.Text))
			}
			a.warn("%s; that incident stays open\n  close it: firstcue incident close %s --outcome '...'", what, report.ShortID(i.ID))
		}
	}
	return nil
}

// manySessions is how many are listed one by one.
const manySessions = 12

func (a *app) printLogged(done []store.Logged) error {
	if len(done) > manySessions {
		count := map[string][]training.Session{}
		var withdrawn []training.Session
		for _, l := range done {
			if stillWithdrawn(l) {
				withdrawn = append(withdrawn, l.Session)
				continue
			}
			count[l.What] = append(count[l.What], l.Session)
		}
		for _, what := range []string{store.Stored, store.Amended, store.SecondScoring, store.Voided, store.AlreadyStored} {
			if ss := count[what]; len(ss) > 0 {
				a.printf("%s: %s\n", whatWords(what), countSessions(ss))
			}
		}
		if len(withdrawn) > 0 {
			a.printf("withdrawn: %s\n", countSessions(withdrawn))
		}
		return nil
	}
	var rows [][]string
	amended := ""
	for _, l := range done {
		s := l.Session
		what := whatWords(l.What)
		if stillWithdrawn(l) {
			what = "withdrawn"
		}
		rows = append(rows, []string{what, report.ShortID(s.ID), s.Dog, s.Start.Format("2006-01-02 15:04"), s.Handler, s.Place, trialCounts(s)})
		if l.What == store.Amended || l.What == store.Voided {
			amended = report.ShortID(s.ID)
		}
	}
	if err := a.grid([]string{"", "session", "dog", "start", "handler", "place", "trials"}, rows, nil); err != nil {
		return writeFailed(err)
	}
	a.printEcho(done)
	if amended != "" {
		a.say("the earlier form stays in its history: firstcue session history %s", amended)
	}
	return nil
}

// printEcho says in words what each line of a note was read as, so that a wrong reading
// is seen.
func (a *app) printEcho(done []store.Logged) {
	for _, l := range done {
		if l.What == store.AlreadyStored || l.What == store.Voided || l.Session.Note == "" {
			continue
		}
		a.printf("\n%s, read as\n", l.Session.Dog)
		for _, e := range note.Echo(l.Session) {
			a.wrapped("  %s", printable(e.Text))
		}
	}
}

// sayCorrected says of which sessions a correction by hand was kept, though the
// note says what it said before.
func (a *app) sayCorrected(ctx context.Context, s *store.Store, done []store.Logged) error {
	n := 0
	for _, l := range done {
		if !l.Corrected {
			continue
		}
		if n++; n > mostSaid {
			continue
		}
		all, err := s.History(ctx, l.Session.ID)
		if err != nil {
			return err
		}
		of, form := "", "FORM"
		for _, r := range all {
			if r.Shown {
				of = " " + a.whenAndWhy(r)
			}
			if r.Kind == "log" || r.Kind == "import" {
				form = report.ShortID(r.ID)
			}
		}
		a.say("session %s of %s was corrected since,%s: the correction stays", report.ShortID(l.Session.ID), l.Session.Dog, of)
		a.say("  to go back to the note: firstcue session settle %s %s", report.ShortID(l.Session.ID), form)
	}
	if n > mostSaid {
		a.say("%s more were corrected since: the corrections stay", plural(n-mostSaid, "session"))
	}
	return nil
}

// stillWithdrawn reports a session that a note brings again and that counts in no
// figure, because somebody withdrew it.
func stillWithdrawn(l store.Logged) bool {
	return l.What == store.AlreadyStored && l.Session.Voided != ""
}

// sayWithdrawn says which sessions of a note stay withdrawn and how to bring them
// back, and returns how many they are.
func (a *app) sayWithdrawn(done []store.Logged) int {
	n := 0
	for _, l := range done {
		if !stillWithdrawn(l) {
			continue
		}
		if n++; n > mostSaid {
			continue
		}
		a.say("session %s of %s is withdrawn (%s) and stays so", report.ShortID(l.Session.ID), l.Session.Dog, printable(l.Session.Voided))
		a.say("  to bring it back: firstcue session unvoid %s", report.ShortID(l.Session.ID))
	}
	if n > mostSaid {
		a.say("%s more are withdrawn and stay so", plural(n-mostSaid, "session"))
	}
	return n
}

func whatWords(what string) string {
	switch what {
	case store.AlreadyStored:
		return "already logged"
	case store.Voided:
		return "withdrawn, no longer in the note"
	case store.Amended:
		return "amended"
	case store.SecondScoring:
		return "second scoring, adds no trials"
	}
	return "logged"
}

func at(place string) string {
	if place == "" {
		return ""
	}
	return " at " + place
}

// trialCounts says how many trials of each cue a session has.
func trialCounts(s training.Session) string {
	var order []string
	n := map[string]int{}
	for _, t := range s.Trials {
		if n[t.Cue] == 0 {
			order = append(order, t.Cue)
		}
		n[t.Cue] += t.Count()
	}
	if len(order) == 0 {
		return "no trial"
	}
	var parts []string
	for _, c := range order {
		parts = append(parts, fmt.Sprintf("%s %d", c, n[c]))
	}
	return strings.Join(parts, ", ")
}

// afterLog says what to see to next: incidents noted, and how to take it back.
func (a *app) afterLog(ctx context.Context, s *store.Store, done []store.Logged, dogs []string, o logOptions) error {
	noted := map[string]bool{}
	stored := false
	for _, l := range done {
		if l.What == store.AlreadyStored {
			continue
		}
		stored = true
		noted[l.Session.ID] = true
	}
	if err := a.sayUnsettled(ctx, s, done); err != nil {
		return err
	}
	if err := a.sayCorrected(ctx, s, done); err != nil {
		return err
	}
	withdrawn := a.sayWithdrawn(done)
	if !stored && withdrawn > 0 {
		a.say("nothing was stored")
		return nil
	}
	if !stored {
		a.say("nothing new: every session is stored already")
		return nil
	}
	if err := a.sayReplaced(ctx, s, done, o); err != nil {
		return err
	}
	if err := a.sayDropped(ctx, s, done); err != nil {
		return err
	}
	for _, d := range dogs {
		list, err := s.Incidents(ctx, d)
		if err != nil {
			return err
		}
		for _, i := range list {
			if noted[i.Session] && i.Closed == 0 && !i.Dropped {
				a.printf("\nincident noted for %s: %s\n", d, i.Text)
				a.printf("Stop the exercise that led to it. %s is not called ready until it is closed:\n  firstcue incident close %s --outcome '...'\n", d, report.ShortID(i.ID))
			}
		}
	}
	a.say("take it back: firstcue undo")
	return nil
}
