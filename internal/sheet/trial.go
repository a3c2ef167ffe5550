package sheet

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"firstcue/internal/note"
	"firstcue/internal/training"
)

// trialFields are the fields of which a trial is made; remarks stand apart.
var trialFields = []Field{Cue, Marks, Response, Signal, Asks, Latency, Completion, Did, Help, Correction,
	Level, Target, Held, Walked, Breaks, Distance, Yes, Of}

// piece is what one row adds to its session.
type piece struct {
	text    string // its line in the note, "" for remarks alone
	trials  []training.Trial
	remarks []training.Remark
	new     []note.Name
}

// piece reads a row of a session, or says why it can't be stored.
func (x *reader) piece(h *head, row Row) (p piece, why *Problem) {
	if row.Bad != nil {
		return p, row.Bad
	}
	if h.bad != nil || h.withdrawn {
		return p, h.bad
	}
	if p, why = x.repeated(h, row); why != nil {
		return p, why
	}
	for _, f := range []Field{Remark, Incident} {
		text := ""
		if x.o.Columns.At(f) >= 0 {
			text = strings.Join(strings.FieldsFunc(x.cell(row, f),
				func(r rune) bool { return unicode.IsSpace(r) || control(r) }), " ")
		}
		if text != "" {
			p.remarks = append(slices.Clip(p.remarks), training.Remark{Text: text, Incident: f == Incident})
		}
	}
	if len(p.trials)+len(p.remarks) == 0 {
		return p, &Problem{Message: "the row names no cue"}
	}
	for i := range p.trials {
		if why := x.allowed(h, &p.trials[i]); why != nil {
			return p, why
		}
	}
	return p, nil
}

// repeated is marks of a row that were worked out before, or now. Of a million
// trials some ten thousand differ: to work out each once takes a quarter off an
// import. A dog with words of its own is left out.
func (x *reader) repeated(h *head, row Row) (p piece, why *Problem) {
	if len(h.dog.Words) > 0 {
		return x.marks(h, row)
	}
	x.key = x.key[:0]
	for _, c := range x.trialColumns {
		x.key = append(append(x.key, row.Cells[c]...), 0)
	}
	p, ok := x.memo[string(x.key)]
	if ok {
		return p, nil
	}
	if p, why = x.marks(h, row); why == nil && len(p.new) == 0 && len(x.memo) < 20_000 {
		x.memo[string(x.key)] = p
	}
	return p, why
}

// marks reads the columns of a trial.
func (x *reader) marks(h *head, row Row) (p piece, why *Problem) {
	said := map[Field]string{}
	for i, c := range x.trialColumns {
		f := x.trialFields[i]
		if row.Cells[c] == "" && x.o.Values[f] == nil {
			continue
		}
		s := x.cell(row, f)
		if strings.ContainsFunc(s, control) {
			return p, x.problem(f, s, "has a line break or another sign in it that a note can't hold", "")
		}
		if s != "" {
			said[f] = s
		}
	}
	switch {
	case said[Marks] != "":
		return x.notation(h, Marks, said[Cue], said[Marks])
	case said[Cue] != "":
		return x.trial(h, said)
	case len(said) > 0:
		return p, &Problem{Message: "the row names no cue"}
	}
	return p, nil
}

// control reports a sign that no text has.
func control(r rune) bool { return unicode.IsControl(r) }

// allowed checks a trial against what is known of the dog and its collar.
func (x *reader) allowed(h *head, t *training.Trial) *Problem {
	day := training.DayOf(h.moment.Time)
	for _, hold := range h.dog.Holds {
		if !hold.Covers(day, t.Cue) {
			continue
		}
		what := h.dog.Name
		if len(hold.Cues) > 0 {
			what += "'s " + t.Cue
		}
		message := fmt.Sprintf("%s is on vet hold on %s: %s", what, day, holdText(hold))
		if !x.o.DespiteHold {
			return &Problem{Message: message,
				Want: "leave the row out, or import with --in-hold: the trial is kept and left out of every figure"}
		}
		x.warn(message + "; kept, and left out of every figure")
	}
	for i := range t.Corrections {
		if c := &t.Corrections[i]; c.Kind == training.ByCollar {
			if why := x.level(h, Level, c.Level.V); why != nil {
				return why
			}
		}
	}
	if t.At.Known && h.clock.Known && t.At.V < h.clock.V {
		return &Problem{Message: fmt.Sprintf("the clock runs backwards: %s s after %s s", plain(t.At.V),
			plain(h.clock.V)), Want: "put the rows in order, or give the later session its own start"}
	}
	if t.Outcome == training.Broke && t.Target.Known && t.Held.Known && t.Held.V > t.Target.V {
		x.warn(fmt.Sprintf("%s broke at %s s, after its target of %s s", t.Cue, plain(t.Held.V),
			plain(t.Target.V)))
	}
	return nil
}

// newCue is the context line that brings a new cue in, "" for one that is known.
func (x *reader) newCue(cue string) string {
	if _, known := x.names.kennel.Cue(cue); known || cue == "" || !x.o.AllowNew {
		return ""
	}
	return "cues: " + cue
}

// notation reads a trial in a note's marks, as the note's reader does, in a
// session about which there is nothing to say: allowed judges the rest.
func (x *reader) notation(h *head, f Field, cue, text string) (p piece, why *Problem) {
	about := "dog: d; handler: h\nstart: 2001-01-01T09:00Z; place: p; leash: off; distraction: 0\ndevice: d\n"
	k := x.names.kennel
	k.Dogs, k.Handlers = []training.Dog{{Name: "d", Words: h.dog.Words}}, []training.Handler{{Name: "h"}}
	k.Places, k.Devices = []training.Place{{Name: "p"}}, []training.Device{{Name: "d"}}
	res := note.Parse([]byte(about+text), note.Options{Kennel: k, Now: x.o.Now, AllowNew: x.o.AllowNew,
		Defaults: x.newCue(cue), Command: "import"})
	if len(res.Problems) > 0 {
		return p, x.ofNote(f, res.Problems[0])
	}
	if len(res.Sessions) != 1 || len(res.Sessions[0].Trials) == 0 || strings.Contains(text, "\n") {
		return p, x.problem(f, text, "is no trial", "write its cue and marks, as sit - +")
	}
	for _, w := range res.Warnings {
		x.warn(w.Message)
	}
	s := res.Sessions[0]
	return piece{text: text, trials: s.Trials, remarks: nil, new: res.New}, nil
}

// words for an answer, besides the notation itself. 1 and 0 are not among them:
// they may be counts or ratings.
var yesWords = []string{"+", "yes", "y", "good", "true", "correct", "right", "answered", "held", "did it",
	"success", "pass"}
var noWords = []string{"-", "no", "n", "false", "miss", "missed", "refused", "failed", "fail", "broke",
	"broken"}

// answers are the outcomes that other words stand for.
var answers = map[string]training.Outcome{"early": training.Early, "already": training.Already,
	"unscored": training.Unscored, "?": training.Unscored,
	"released": training.Released, "walked": training.Walked, "counted": training.Counted}

// trial reads a trial of plain columns.
func (x *reader) trial(h *head, said map[Field]string) (p piece, why *Problem) {
	var words []string
	cue := training.Cue{}
	for _, w := range h.dog.Words {
		if words = append(words, w.Word); w.Word != "" && nameKey(w.Word) == nameKey(said[Cue]) {
			cue = x.names.cues[w.Cue]
		}
	}
	if cue.Name == "" {
		name, isNew, why := x.name(Cue, said[Cue], words...)
		if why != nil {
			return p, why
		}
		if cue = x.names.cues[name]; isNew {
			if p, why = x.notation(h, Cue, name, name+" +"); why != nil {
				return p, why // the note's reader knows what can be the name of a cue
			}
			cue = training.Cue{Name: p.trials[0].Cue, Kind: training.Response}
			if p.new == nil || cue.Name != name {
				return p, x.problem(Cue, said[Cue], "can't be the name of a cue",
					"add it with `firstcue cue add`")
			}
		}
	}
	t, why := x.beside(cue, said)
	if why != nil {
		return p, why
	}
	answer := said[Response]
	word := training.Key(answer)
	outcome := answers[word]
	switch {
	case said[Of] != "" && said[Of] != "0" || said[Yes] != "" && said[Yes] != "0":
		outcome, why = training.Counted, x.tally(&t, said)
	case cue.Kind == training.Motion && (word == "" || slices.Contains(yesWords, word)):
		outcome = training.Walked
	case slices.Contains(yesWords, word):
		outcome = training.Answered
	case slices.Contains(noWords, word):
		outcome = training.Refused
	case word == "":
		return p, x.problem(Response, "", cue.Name+" has no answer", "")
	case outcome != "":
	case strings.Trim(word, "0123456789") == "":
		return p, x.meaningless(answer, "could be an answer, a count or a rating")
	case !strings.ContainsAny(word, "+-@?/:0123456789") && word != "x" && word != "wrong" &&
		!strings.HasPrefix(word, "wrong "):
		return p, x.meaningless(answer, "is no answer known here")
	default:
		return x.marked(h, t, said)
	}
	if why == nil {
		why = x.settle(&t, outcome, said)
	}
	if why != nil {
		return p, why
	}
	written := t
	if cue.Signal == "context" && t.Signal == cue.Signal {
		written.Signal = "" // goes without saying
	}
	t.Marks = note.Marks(written)
	p.text, p.trials = t.Marks, []training.Trial{t}
	return p, nil
}

func (x *reader) meaningless(answer, message string) *Problem {
	return x.problem(Response, answer, message,
		fmt.Sprintf("say what it means with --values 'response: %s=+' (or =-)", answer))
}

// marked reads a trial whose answer is in a note's marks. The other columns must
// not say a second thing.
func (x *reader) marked(h *head, t training.Trial, said map[Field]string) (piece, *Problem) {
	for _, f := range []Field{Asks, Latency, Completion, Did, Help, Correction, Level, Held} {
		if said[f] != "" {
			return piece{}, x.problem(f, said[f], fmt.Sprintf("besides the marks %q", said[Response]),
				"give one of them")
		}
	}
	line := []string{t.Cue}
	if t.Signal != "" {
		line = append(line, strings.ReplaceAll(string(t.Signal), "+", " "))
	}
	for _, n := range []struct {
		training.Num
		unit string
	}{{t.Distance, "m"}, {t.Target, "s"}, {t.Walked, "s"}} {
		if n.Known {
			line = append(line, plain(n.V)+n.unit)
		}
	}
	return x.notation(h, Response, t.Cue, strings.Join(append(line, said[Response]), " "))
}

// beside reads the columns beside the answer.
func (x *reader) beside(cue training.Cue, said map[Field]string) (training.Trial, *Problem) {
	t := training.Trial{Cue: cue.Name, Kind: cue.Kind, Did: strings.ToLower(said[Did])}
	var why *Problem
	num := func(f Field, clock bool, least, most float64) (n training.Num) {
		if why != nil || said[f] == "" {
			return n
		}
		if n, why = x.number(f, said[f], clock); why == nil && (n.V < least || n.V > most) {
			why = x.problem(f, said[f], "cannot be right",
				fmt.Sprintf("write a number up to %s, or leave the cell empty", plain(most)))
		}
		return n
	}
	const some, hour = 0.001, 3600
	t.Latency, t.Completion = num(Latency, false, 0, 60), num(Completion, false, 0, 600)
	t.Distance = num(Distance, false, some, 2000)
	t.Target, t.Held, t.Walked = num(Target, true, some, 24*hour), num(Held, true, 0, 24*hour), num(Walked,
		true, some, 6*hour)
	if why == nil {
		t.Asks, why = x.count(Asks, said[Asks], 50)
	}
	if why == nil {
		t.Breaks, why = x.count(Breaks, said[Breaks], 100)
	}
	if why != nil {
		return t, why
	}
	if t.Signal, why = x.signal(cue, said[Signal]); why != nil {
		return t, why
	}
	if t.Prompts, why = x.help(said[Help]); why != nil {
		return t, why
	}
	if t.Did != "" && t.Did != "?" && !oneWord.MatchString(t.Did) {
		return t, x.problem(Did, said[Did], "is more than one word", "write what the dog did in one, as sat")
	}
	t.Corrections, why = x.corrections(said[Correction], said[Level])
	return t, why
}

var oneWord = regexp.MustCompile(`^\pL[\pL\p{Mn}']*(-\pL[\pL\p{Mn}']*)*$`)

func (x *reader) signal(cue training.Cue, s string) (training.Signal, *Problem) {
	if s == "" && cue.Signal == "context" {
		return "context", nil
	}
	var given []string
	parts := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return strings.ContainsRune("+ ,/",
			r)
	})
	for _, one := range training.Signals { // in their order, each once
		if slices.Contains(parts, string(one)) {
			given = append(given, string(one))
		}
	}
	if len(given) < len(parts) {
		return "", x.problem(Signal, s, "is none of voice, hand, whistle, tone, vibration and context",
			"or two of them, as voice+hand")
	}
	return training.Signal(strings.Join(given, "+")), nil
}

func (x *reader) help(s string) (out []string, why *Problem) {
	if slices.Contains([]string{"", "no", "none", "n", "0", "-"}, training.Key(s)) {
		return nil, nil
	}
	for _, w := range strings.FieldsFunc(strings.ToLower(s),
		func(r rune) bool { return strings.ContainsRune(",; +", r) }) {
		if slices.Contains([]string{"yes", "y", "1"}, w) {
			w = "help"
		}
		if !oneWord.MatchString(w) {
			return nil, x.problem(Help, s, "is no word for help", "write lure, gesture, ... or yes")
		}
		out = append(out, w)
	}
	return out, nil
}

// corrections reads the columns about corrections. A level is a collar's; a
// number without a level is so many corrections of a kind that is not known,
// which can't be stored.
func (x *reader) corrections(how, level string) ([]training.Correction, *Problem) {
	kind, n := training.CorrectionKind(""), 1
	switch word := training.Key(how); word {
	case "yes", "y", "1", "":
	case "no", "none", "n", "0":
		if level == "" {
			return nil, nil
		}
	case "leash", "verbal", "collar":
		kind = training.CorrectionKind(word)
	default:
		c, err := strconv.Atoi(word)
		if err != nil || c < 0 || c > 50 {
			return nil, x.problem(Correction, how,
				"is none of leash, verbal, collar, no and a number of corrections", "")
		}
		n = c
	}
	switch {
	case how == "" && level == "":
		return nil, nil
	case level == "" && (kind == "" || kind == training.ByCollar):
		return nil, x.problem(Correction, how, "was it leash, verbal, or which level?",
			fmt.Sprintf("--values 'correction: %s=leash' says it for all rows", how))
	case level == "":
		return slices.Repeat([]training.Correction{{Kind: kind}}, n), nil
	case kind != "" && kind != training.ByCollar:
		return nil, x.problem(Level, level, "with a correction by "+string(kind)+": a level is a collar's",
			"")
	}
	v, why := x.number(Level, level, false)
	if why != nil {
		return nil, why
	}
	return slices.Repeat([]training.Correction{{Kind: training.ByCollar, Level: v}}, n), nil
}
