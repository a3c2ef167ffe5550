package cli

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"firstcue/internal/note"
	"firstcue/internal/report"
	"firstcue/internal/say"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

const logLong = `Stores session notes from files, from standard input (-), or from --text, and says
what it understood and what changed for each cue. All notes are read before anything
is stored: with a problem in one of them nothing is, every problem is shown with its
line, and the notes stay as they are. The same note twice is stored once, and what was
corrected by hand since stays corrected; a changed note replaces its sessions, and the
earlier form stays in their history.

A note has context lines, in force until changed, and a line for each cue:

  dog: Tarn; handler: Ailsa
  start: 2026-03-04 09:10; place: paddock; leash: off; distraction: 2
  sit 3+                    three sits, each on the first ask
  down - +1.6               no; asked again, down in 1.6 s
  down 8/10                 ten downs, eight on the first ask
  come 15m +0.9>4.8         turned after 0.9 s, within reach at 4.8 s
  stay 1:00 +, - 0:45       held a minute; the second time broke at 45 s
  heel 3:20 2-              walked 3 min 20 s, two position breaks
  > a remark
  ! an incident, or a sign of fear, pain or aggression

  +  did it         -  did not        x:sat  sat instead    ?  could not be scored
  @9 @leash @verbal corrected         help help:lure        early  already
  ,  next trial     3+ the mark three times

A mark after - or a correction belongs to the same trial. Keys: dog handler scorer
start place leash (leash, long line, drag line, off) distraction (0 to 4) device
level weather reward source. Flags of the same names give what a note leaves out.

A single trial, for scripts: --cue with --response, and --dog and --start to say to
which session it belongs. Each such call adds one trial to that session.`

type logOptions struct {
	text                                                string
	dog, handler, scorer, start, place, leash           string
	distraction, device, workingLevel, weather, rewards string
	source                                              string
	baseline, dryRun, keep, addNew, inHold              bool
	cue, response, latency, level                       string
	format                                              string
	note                                                bool // a whole note is logged, not a trial and not an amendment
}

func newLogCommand(a *app) *cobra.Command {
	var o logOptions
	cmd := &cobra.Command{
		Use:   "log [NOTE...]",
		Short: "Store session notes",
		Long:  logLong,
		Example: `  firstcue log tuesday.txt
  firstcue log --dry-run tuesday.txt
  firstcue log --dog Tarn --handler Ailsa --place paddock --start 'today 9:10' --text 'sit 3+'
  firstcue log --dog Tarn --handler Ailsa --start 'today 9:10' --cue down --response yes --latency 1.4`,
		Args: takes(0, -1, "notes"),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return nil, cobra.ShellCompDirectiveDefault
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			inputs, err := a.logInputs(cmd, args, &o)
			if err != nil {
				return err
			}
			if o.dryRun {
				return a.runLog(cmd.Context(), inputs, o)
			}
			err = a.keeping(cmd.Context(), func() error { return a.runLog(cmd.Context(), inputs, o) })
			return a.keepPiped(cmd.Context(), inputs, o, err)
		},
	}
	fs := cmd.Flags()
	fs.StringVar(&o.text, "text", "", "the `NOTE` itself, instead of a file (\\n begins a new line)")
	fs.BoolVarP(&o.dryRun, "dry-run", "n", false, "show what would be stored, trial by trial, and store nothing")
	fs.BoolVar(&o.addNew, "new", false, "names not yet known become entries of the lists; a slip of a known name does not")
	fs.BoolVar(&o.keep, "keep", false, "file a note with problems as a draft in the store (one from standard input always is)")
	fs.BoolVar(&o.inHold, "in-hold", false, "the trials in a vet hold are meant; they are left out of every figure")
	fs.StringVar(&o.dog, "dog", "", "which `DOG`, where the note names none")
	fs.StringVar(&o.handler, "handler", "", "who gave the cues, a `NAME`")
	fs.StringVar(&o.scorer, "scorer", "", "who wrote it down, a `NAME`, if not the handler")
	fs.StringVar(&o.start, "start", "", "when the session began, a `TIME` such as 'today 9:10'")
	fs.StringVar(&o.place, "place", "", "where, a `PLACE` of the list")
	fs.StringVar(&o.leash, "leash", "", "how the dog was kept, a `STATE`: leash, long line, drag line, off")
	fs.StringVar(&o.distraction, "distraction", "", "what went on, a `CODE` from 0 (familiar, quiet) to 4 (this dog's hardest thing)")
	fs.StringVar(&o.device, "device", "", "what the levels belong to, a `DEVICE` of the list")
	fs.StringVar(&o.workingLevel, "working-level", "", "lowest `LEVEL` the dog noticed that day")
	fs.StringVar(&o.weather, "weather", "", "weather, in `WORDS`")
	fs.StringVar(&o.rewards, "reward", "", "reward, in `WORDS`")
	fs.StringVar(&o.source, "source", "", "how it was recorded, a `WORD`: live, video or memory")
	fs.BoolVar(&o.baseline, "baseline", false, "held before any teaching of these cues")
	fs.StringVar(&o.cue, "cue", "", "a single trial of this `CUE`")
	fs.StringVar(&o.response, "response", "", "single trial: yes, no, wrong, unscored, early, already, or `MARKS` as in a note")
	fs.StringVar(&o.latency, "latency", "", "single trial: `SECONDS` to the start of the answer")
	fs.StringVar(&o.level, "level", "", "single trial: refused and corrected at this `LEVEL`, then --response")
	complete(cmd, "dog", a.completeDogs)
	complete(cmd, "handler", a.completeHandlers)
	complete(cmd, "scorer", a.completeHandlers)
	complete(cmd, "place", a.completePlaces)
	complete(cmd, "cue", a.completeCues)
	complete(cmd, "device", a.completeDevices)
	formatVar(cmd, &o.format, "text", "json")
	return cmd
}

// input is one note before it is read.
type input struct {
	name string // for messages
	text []byte
	// Where the text is if nothing is stored: in a file, or in the command that
	// was typed. Neither: what came down a pipe, of which there is no other copy.
	file, typed bool
}

// logInputs reads the notes' texts. Nothing is looked at beyond that.
func (a *app) logInputs(cmd *cobra.Command, args []string, o *logOptions) ([]input, error) {
	single := o.cue != ""
	if !single {
		for _, f := range []string{"response", "latency", "level"} {
			if cmd.Flags().Changed(f) {
				return nil, usagef("--%s is for a single trial, and no --cue is given", f).try("name the cue: --cue sit --%s ...", f)
			}
		}
	}
	switch {
	case single && (len(args) > 0 || o.text != ""):
		return nil, usagef("a single trial (--cue) and a note do not go together")
	case single:
		return nil, nil
	case cmd.Flags().Changed("text") && len(args) > 0:
		return nil, usagef("--text and files do not go together")
	case cmd.Flags().Changed("text"):
		return []input{{name: "--text", text: []byte(strings.ReplaceAll(o.text, `\n`, "\n")), typed: true}}, nil
	case len(args) == 0:
		return nil, usagef("no note was named").try("firstcue log FILE, firstcue log - for standard input, or --text 'sit 3+'")
	}
	var out []input
	seen := map[string]bool{}
	for _, name := range args {
		if seen[name] {
			return nil, usagef("%s is named twice", name)
		}
		seen[name] = true
		if name == "-" {
			text, err := readNote(a.input(cmd.Context()))
			if errors.Is(err, context.Canceled) {
				return nil, err
			}
			if err != nil {
				return nil, usagef("standard input: %v", err)
			}
			out = append(out, input{name: "-", text: text})
			continue
		}
		text, err := readNoteFile(name)
		if err != nil {
			return nil, err
		}
		out = append(out, input{name: name, text: text, file: true})
	}
	return out, nil
}

// tooLong is far above any note and far below what would hurt.
const tooLong = 16 << 20

func readNote(r io.Reader) ([]byte, error) {
	text, err := io.ReadAll(io.LimitReader(r, tooLong+1))
	if err == nil && len(text) > tooLong {
		err = errors.New("this is no note: it is longer than 16 MB")
	}
	return text, err
}

func readNoteFile(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, usagef("there is no file %s; nothing was stored", name)
		}
		if errors.Is(err, fs.ErrPermission) {
			return nil, failedf(err, "%v; nothing was stored", err).try("give yourself the right to read it")
		}
		return nil, usagef("%v; nothing was stored", err)
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return nil, usagef("%s is a folder, not a note; nothing was stored", name).try("firstcue log %s/*.txt", strings.TrimSuffix(name, "/"))
	}
	text, err := readNote(f)
	if err != nil {
		return nil, usagef("read %s: %v; nothing was stored", name, err)
	}
	return text, nil
}

// defaults writes the flags as context lines. A value that would itself be read
// as more of them is refused.
func (o logOptions) defaults() (string, error) {
	var parts []string
	for _, p := range []struct{ key, value string }{
		{"dog", o.dog}, {"handler", o.handler}, {"scorer", o.scorer}, {"start", o.start}, {"place", o.place},
		{"leash", o.leash}, {"distraction", o.distraction}, {"device", o.device}, {"level", o.workingLevel},
		{"weather", o.weather}, {"reward", o.rewards}, {"source", o.source},
	} {
		if p.value == "" {
			continue
		}
		if strings.ContainsAny(p.value, ";\n\r") {
			return "", usagef("--%s %q holds a semicolon or a line break", p.key, p.value)
		}
		parts = append(parts, p.key+": "+p.value)
	}
	if o.baseline {
		parts = append(parts, "baseline: yes")
	}
	return strings.Join(parts, "; "), nil
}

// parsed is a note that was read.
type parsed struct {
	input
	note.Result
}

// runLog reads every note, and stores them when none has a problem.
func (a *app) runLog(ctx context.Context, inputs []input, o logOptions) error {
	if err := a.mayBegin(o.addNew); err != nil {
		return err
	}
	defaults, err := o.defaults()
	if err != nil {
		return err
	}
	opt := note.Options{Now: a.env.Now(), Defaults: defaults, AllowNew: o.addNew, DespiteHold: o.inHold, Limit: a.limit}
	if opt.Written, err = a.firstLogged(ctx, inputs); err != nil {
		return err
	}
	k, set, err := a.kennel(ctx)
	if err != nil {
		return err
	}
	a.rules = rulesOf(k, set)
	if o.cue != "" {
		return a.logTrial(ctx, k, defaults, o)
	}
	notes, problems := a.parseNotes(inputs, k, opt)
	if problems > 0 {
		return a.refuseNotes(ctx, notes, problems, o)
	}
	for _, n := range notes {
		a.showWarnings(n.Warnings)
	}
	if o.dryRun {
		return a.dryRun(notes, o)
	}
	o.note = true
	return a.storeNotes(ctx, notes, o)
}

// firstLogged returns when the very same text was first logged here, zero if
// never: "today" in a note logged again must mean the day it meant then.
func (a *app) firstLogged(ctx context.Context, inputs []input) (time.Time, error) {
	var first time.Time
	h := sha256.New()
	relative := false
	for _, in := range inputs {
		h.Write(in.text)
		low := bytes.ToLower(in.text)
		relative = relative || bytes.Contains(low, []byte("today")) || bytes.Contains(low, []byte("yesterday")) || bytes.Contains(low, []byte("ago"))
	}
	path, err := a.storePath()
	if err != nil || !relative || !storeExists(path) {
		return first, err
	}
	hash := hex.EncodeToString(h.Sum(nil))
	err = a.reading(ctx, func(s *store.Store) error {
		all, err := s.Batches(ctx, 0)
		for _, b := range all { // newest first
			if b.Source == hash && b.Kind == "log" {
				first = b.At.In(a.env.Now().Location())
			}
		}
		return err
	})
	return first, err
}

// parseNotes reads the notes in order; names that an earlier one adds are known
// to the later ones.
func (a *app) parseNotes(inputs []input, k training.Kennel, o note.Options) (notes []parsed, problems int) {
	for i, in := range inputs {
		if j := slices.IndexFunc(inputs[:i], func(x input) bool { return string(x.text) == string(in.text) }); j >= 0 {
			a.say("%s is the same note as %s", in.name, inputs[j].name)
			continue
		}
		o.Name, o.Kennel = in.name, k
		if in.name == "-" {
			o.Name = "standard input"
		}
		p := parsed{in, note.Parse(in.text, o)}
		problems += len(p.Problems)
		notes = append(notes, p)
		addNames(&k, p.New)
	}
	return notes, problems
}

// addNames puts new names on the lists, as they are to be stored.
func addNames(k *training.Kennel, names []note.Name) {
	for _, n := range names {
		switch n.Kind {
		case "dog":
			k.Dogs = append(slices.Clone(k.Dogs), training.Dog{Name: n.Name})
		case "handler":
			k.Handlers = append(slices.Clone(k.Handlers), training.Handler{Name: n.Name, Role: training.Trainer})
		case "place":
			k.Places = append(slices.Clone(k.Places), training.Place{Name: n.Name})
		case "device":
			k.Devices = append(slices.Clone(k.Devices), training.Device{Name: n.Name})
		case "cue":
			k.Cues = append(slices.Clone(k.Cues), training.Cue{Name: n.Name, Kind: n.CueKind, Limit: training.Known(3)})
		}
	}
}

// showWarnings shows what should be looked at and is no problem.
func (a *app) showWarnings(ws []note.Problem) {
	for _, w := range ws {
		w.Message = "warning: " + w.Message
		a.showProblem(w)
	}
}

func (a *app) showProblem(p note.Problem) {
	if err := p.Write(a.env.Stderr); err != nil {
		a.warn("%v", err)
	}
}

func problemsJSON(ps []note.Problem) []problemJSON {
	out := []problemJSON{}
	for _, p := range ps {
		out = append(out, problemJSON{p.File, p.Line, p.Column, p.Text, p.Message, p.Want, p.Near})
	}
	return out
}

// refuseNotes shows every problem, and says that nothing was stored and where
// each note still is.
func (a *app) refuseNotes(ctx context.Context, notes []parsed, problems int, o logOptions) error {
	var all []note.Problem
	var files []string
	piped, typed := false, false
	for _, n := range notes {
		piped = piped || !n.file && !n.typed // also a good one: nothing is stored of it
		if len(n.Problems) == 0 {
			continue
		}
		all = append(all, n.Problems...)
		for _, p := range n.Problems {
			a.showProblem(p)
		}
		if n.file {
			files = append(files, n.name)
		}
		typed = typed || n.typed
	}
	if o.format == "json" {
		if err := a.json(refusedJSON{schema("log"), 0, problemsJSON(all)}); err != nil {
			return writeFailed(err)
		}
	}
	e := usagef("%s, nothing was stored", plural(problems, "problem"))
	if len(notes) > 1 {
		e = usagef("%s in %d of %d notes, nothing was stored", plural(problems, "problem"), countBad(notes), len(notes))
	}
	var hint []string
	if len(files) > 0 {
		hint = append(hint, "the note is untouched: "+strings.Join(files, ", "))
	}
	if o.keep || piped && !o.dryRun {
		kept, err := a.keepDrafts(ctx, notes, o)
		if err != nil {
			return failedf(err, "%s, and the note could not be filed as a draft: %v", e.msg, err)
		}
		hint = append(hint, kept...)
	} else if typed && o.text != "" {
		hint = append(hint, "the note is only in the command you typed; --keep files it as a draft")
	}
	return e.try("%s", strings.Join(hint, "\n"))
}

func countBad(notes []parsed) int {
	n := 0
	for _, p := range notes {
		if len(p.Problems) > 0 {
			n++
		}
	}
	return n
}

// dryRun prints every session trial by trial.
func (a *app) dryRun(notes []parsed, o logOptions) error {
	var all []training.Session
	var names []note.Name
	for _, n := range notes {
		all = append(all, n.Sessions...)
		names = append(names, n.New...)
	}
	if o.format == "json" {
		sessions := []sessionJSON{}
		for _, s := range all {
			sessions = append(sessions, sessionToJSON(s))
		}
		return writeFailed(a.json(dryRunJSON{schema("log"), true, sessions, namesJSON(names)}))
	}
	if err := report.DryRunText(a.env.Stdout, all, a.options()); err != nil {
		return writeFailed(err)
	}
	for _, n := range names {
		a.say("would be added to the lists: %s", nameWords(n))
	}
	a.say("dry run: %s, nothing was stored", countSessions(all))
	return nil
}

func countSessions(ss []training.Session) string {
	trials := 0
	for _, s := range ss {
		for _, t := range s.Trials {
			trials += t.Count()
		}
	}
	return plural(len(ss), "session") + ", " + plural(trials, "trial")
}

func namesJSON(names []note.Name) []nameJSON {
	out := []nameJSON{}
	for _, n := range names {
		out = append(out, nameJSON{n.Kind, n.Name})
	}
	return out
}

func nameWords(n note.Name) string {
	switch n.Kind {
	case "handler":
		return "handler " + n.Name + ", as a trainer"
	case "place":
		return "place " + n.Name + ", on property"
	case "cue":
		return "cue " + n.Name + ", one answer expected"
	}
	return n.Kind + " " + n.Name
}

// request makes what the store is asked to keep: every note in one transaction,
// so that several notes are stored all or none, and taken back in one go.
func request(notes []parsed) store.LogRequest {
	var k training.Kennel
	var req store.LogRequest
	var names []string
	for _, n := range notes {
		addNames(&k, n.New)
		req.Sessions = append(req.Sessions, n.Sessions...)
		name := n.name
		if name == "-" {
			name = "standard input"
		}
		names = append(names, name)
		req.Text = append(req.Text, n.text...)
	}
	req.Name = strings.Join(names, ", ")
	if len(names) > 3 {
		req.Name = plural(len(names), "note") + ", " + names[0] + " to " + names[len(names)-1]
	}
	req.Dogs, req.Handlers, req.Places, req.Devices, req.Cues = k.Dogs, k.Handlers, k.Places, k.Devices, k.Cues
	return req
}

// storeNotes stores the notes and says what came of it.
func (a *app) storeNotes(ctx context.Context, notes []parsed, o logOptions) error {
	return a.changing(ctx, func(s *store.Store) error {
		var dogs []string
		for _, n := range notes {
			for _, x := range n.Sessions {
				if !slices.Contains(dogs, x.Dog) {
					dogs = append(dogs, x.Dog)
				}
			}
		}
		if a.quiet && o.format != "json" {
			dogs = nil // nobody reads what the note changed
		}
		before, err := a.reckon(ctx, s, dogs)
		if err != nil {
			return err
		}
		res, err := s.LogNote(ctx, request(notes))
		if errors.Is(err, store.ErrInvalid) {
			return usagef("%v; nothing was stored", err)
		}
		if err != nil {
			return err
		}
		a.safe = true
		for _, n := range notes {
			for _, x := range n.New {
				a.say("added %s", nameWords(x))
				switch x.Kind {
				case "place":
					a.say("  away from your ground? firstcue place set %s --off-property", quote(x.Name))
				case "device":
					a.say("  its dial: firstcue device set %s --lowest 0 --highest 100", quote(x.Name))
				}
			}
		}
		after, err := a.standings(ctx, s, dogs)
		if err != nil {
			return err
		}
		return a.sayLogged(ctx, s, res.Sessions, before(), after, o)
	})
}

// logTrial adds one trial to the session that the flags name.
func (a *app) logTrial(ctx context.Context, k training.Kennel, defaults string, o logOptions) error {
	for _, need := range []struct{ flag, value string }{{"dog", o.dog}, {"start", o.start}, {"response", o.response}} {
		if need.value == "" {
			return usagef("a single trial needs --%s", need.flag).try("the trials with one --dog and one --start are one session")
		}
	}
	line, err := a.trialLine(o, k)
	if err != nil {
		return err
	}
	d, err := pick(k.Dogs, "dog", o.dog)
	if err != nil && !o.addNew {
		return err
	}
	start, err := note.ReadTime(o.start, a.env.Now())
	if err != nil {
		return usagef("--start: %v", err)
	}
	// What is there already of this session, as it was written.
	var was *training.Session
	if d.ID != "" {
		if err := a.reading(ctx, func(s *store.Store) error {
			day := training.DayOf(start.Time)
			list, err := s.Sessions(ctx, store.Filter{Dog: d.Name, From: day - 1, To: day + 1})
			for i, x := range list {
				if x.Start.Equal(start.Time) && x.Rescores == "" && x.Part == 0 {
					was = &list[i]
				}
			}
			return err
		}); err != nil {
			return err
		}
	}
	text, carried := line+"\n", defaults
	if was != nil {
		if o.device != "" && training.Key(known(k.Devices, o.device)) != training.Key(was.Device) {
			text = "device: " + o.device + "\n" + text
		}
		before, _ := note.TextOf(*was, note.Options{Kennel: k, Now: a.env.Now()})
		text, carried = strings.TrimRight(before, "\n")+"\n"+text, ""
	}
	notes, problems := a.parseNotes([]input{{name: "--cue", text: []byte(text), typed: true}}, k,
		note.Options{Now: a.env.Now(), Defaults: carried, AllowNew: o.addNew, DespiteHold: o.inHold, Ask: askForFlag, Limit: a.limit})
	if problems > 0 {
		return a.refuseNotes(ctx, notes, problems, logOptions{format: o.format})
	}
	if was != nil {
		if err := sameSetting(*was, o, k); err != nil {
			return err
		}
	}
	if o.dryRun {
		return a.dryRun(notes, o)
	}
	return a.storeNotes(ctx, notes, o)
}

// sameSetting refuses a trial whose flags contradict the session it is added to.
func sameSetting(s training.Session, o logOptions, k training.Kennel) error {
	for _, c := range []struct{ flag, is, said string }{
		{"handler", s.Handler, known(k.Handlers, o.handler)},
		{"place", s.Place, known(k.Places, o.place)},
		{"leash", string(s.Leash), o.leash},
	} {
		if c.said != "" && training.Key(c.said) != training.Key(c.is) {
			return usagef("the session of %s at %s has %s %q, not %q", s.Dog, s.Start.Format("2006-01-02 15:04"), c.flag, c.is, c.said).
				try("another handler, place or leash is another session: give it its own --start")
		}
	}
	return nil
}

// askForFlag says which flag gives what a note without a file lacks.
func askForFlag(key string) string {
	value := map[string]string{"handler": "NAME", "dog": "NAME", "place": "PLACE", "start": "'today 9:10'", "leash": "off", "distraction": "2"}[key]
	return "add --" + key + " " + value
}

// known returns the registered spelling of a name, or the name itself.
func known[T named](list []T, name string) string {
	if x, err := pick(list, "name", name); err == nil {
		n, _ := spelt(x)
		return n
	}
	return name
}

// trialLine writes the flags of a single trial as a line of a note.
func (a *app) trialLine(o logOptions, k training.Kennel) (string, error) {
	if strings.ContainsAny(o.cue+o.response, "\n\r#>!;") {
		return "", usagef("--cue and --response hold one trial, not %q", o.cue+" "+o.response)
	}
	latency, err := notBelowZero("--latency", o.latency, "seconds, such as 1.4")
	if err != nil {
		return "", err
	}
	level, err := notBelowZero("--level", o.level, "a position of the dial, such as 9")
	if err != nil {
		return "", err
	}
	marks := map[string]string{"yes": "+", "good": "+", "no": "-", "wrong": "x", "unscored": "?", "early": "early", "already": "already"}
	m, word := marks[strings.ToLower(o.response)]
	if !word {
		m = o.response
	}
	if latency.Known {
		if m != "+" {
			return "", usagef("--latency is the time to an answer; it goes with --response yes").try("or write the marks: --response '- +1.6'")
		}
		m += say.Number(latency.V)
	}
	if level.Known {
		if !word || m == "early" || m == "already" || m == "?" {
			return "", usagef("--level goes with --response yes or no").try("or write the marks: --response '- @9 +1.6'")
		}
		correction := "- @" + say.Number(level.V)
		if m == "-" {
			m = correction
		} else {
			m = correction + " " + m
		}
	}
	return o.cue + " " + m, a.oneTrial(o, m, k)
}

// notBelowZero reads the number of a flag that says how much there was.
func notBelowZero(flag, s, what string) (training.Num, error) {
	n, err := number(flag, s)
	if err == nil && n.Known && n.V < 0 {
		return training.Num{}, usagef("%s: %s is below 0; write %s", flag, s, what)
	}
	return n, err
}

// oneTrial refuses marks that are none, or that are more than one trial. They are
// read by themselves, so that the message is about the flag.
func (a *app) oneTrial(o logOptions, marks string, k training.Kennel) error {
	if _, err := pick(k.Cues, "cue", o.cue); err != nil {
		return nil // what is wrong is the cue, and is said with the rest
	}
	res := note.Parse([]byte(o.cue+" "+marks+"\n"), note.Options{
		Now: a.env.Now(), Kennel: training.Kennel{Cues: k.Cues}, AllowNew: true,
		Defaults: "dog: D; handler: H; place: P; start: " + a.env.Now().Format("2006-01-02 15:04") + "; leash: off; distraction: 0; device: C",
	})
	for _, p := range res.Problems {
		return usagef("--response: %s", p.Message).try("write yes, no, wrong, unscored, early, already, or marks such as '- @9 +1.6'")
	}
	n := 0
	for _, s := range res.Sessions {
		n += len(s.Trials)
	}
	if n != 1 {
		return usagef("--response: %q is %s; write one", o.response, plural(n, "trial")).
			try("each call adds one trial; several: firstcue log --text '%s ...'", o.cue)
	}
	return nil
}
