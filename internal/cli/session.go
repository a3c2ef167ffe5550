package cli

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/note"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

const handleHelp = `A session is named by the handle that firstcue sessions prints, by its whole id, or by
the word last: the session that began last.`

func newSessionCommand(a *app) *cobra.Command {
	return group(&cobra.Command{
		Use:     "session",
		Short:   "Look at, correct or withdraw one session",
		Long:    "One session: what was understood, its corrections and its history.\n\n" + handleHelp,
		Example: "  firstcue session show last",
	},
		newSessionShowCommand(a),
		newSessionAmendCommand(a),
		newSessionVoidCommand(a),
		newSessionUnvoidCommand(a),
		newSessionSettleCommand(a),
		newSessionHistoryCommand(a),
	)
}

// session finds a session by handle.
func (a *app) session(ctx context.Context, s *store.Store, handle string) (training.Session, error) {
	if handle != "last" {
		return s.Session(ctx, handle)
	}
	latest, err := s.Sessions(ctx, store.Filter{Limit: 1})
	if err == nil && len(latest) == 0 {
		err = usagef("there is no session yet")
	}
	if err != nil {
		return training.Session{}, err
	}
	return latest[0], nil
}

// readingSession opens the store to look at one session.
func (a *app) readingSession(ctx context.Context, handle string, f func(*store.Store, training.Session) error) error {
	return a.reading(ctx, func(s *store.Store) error {
		x, err := a.session(ctx, s, handle)
		if err != nil {
			return err
		}
		return f(s, x)
	})
}

func newSessionShowCommand(a *app) *cobra.Command {
	var format string
	var file bool
	cmd := &cobra.Command{
		Use:   "show SESSION",
		Short: "Show a session trial by trial, and its note",
		Long: `Shows a session as it was understood, and the note as it was written. With --file it
prints the whole file that the session was logged or imported from, byte for byte as it
came in, with the other sessions in it. Of an imported file over 4 MiB none is kept.

` + handleHelp,
		Example: `  firstcue session show last
  firstcue session show last --file > friday.txt`,
		Args: takes(1, 1, "a session's handle"), ValidArgsFunction: inOrder(a.completeSessions),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return a.readingSession(ctx, args[0], func(s *store.Store, x training.Session) error {
				switch {
				case file && cmd.Flags().Changed("format"):
					return usagef("--file and --format do not go together: the file is printed as it is")
				case file:
					return a.showSource(ctx, s, x)
				}
				switch format {
				case "json":
					return writeFailed(a.json(struct {
						Schema  string      `json:"schema"`
						Session sessionJSON `json:"session"`
					}{schema("session"), sessionToJSON(x)}))
				case "note":
					fmt.Fprintf(a.env.Stdout, "%s\n", strings.TrimRight(noteOf(x), "\n"))
					return nil
				}
				k, set, err := kennelOf(ctx, s)
				if err != nil {
					return err
				}
				a.rules = rulesOf(k, set)
				return writeFailed(report.SessionText(a.env.Stdout, x, a.options()))
			})
		},
	}
	formatVar(cmd, &format, "text", "json", "note")
	cmd.Flags().BoolVar(&file, "file", false, "print the whole file it was logged from, as it came in")
	return cmd
}

// showSource prints the file that a session was logged from: the one that says
// what is in force, or, when that was said without a file, the latest one.
func (a *app) showSource(ctx context.Context, s *store.Store, x training.Session) error {
	all, err := s.History(ctx, x.ID)
	if err != nil {
		return err
	}
	hash, same := "", false
	for _, r := range slices.Backward(all) {
		if says := r.Session.Note == x.Note; r.Source != "" && (hash == "" || says && !same) {
			hash, same = r.Source, says
		}
	}
	short := report.ShortID(x.ID)
	if hash == "" {
		return usagef("no file is kept of session %s", short).try("its own lines: firstcue session show %s --format note", short)
	}
	text, err := s.Source(ctx, hash)
	if errors.Is(err, store.ErrDamaged) {
		return failedf(nil, "the file of session %s was altered in the store, so it is not shown", short).
			try("the session's own lines: firstcue session show %s --format note\nwhat is altered, and what to do: firstcue store check", short)
	}
	if err != nil {
		return err
	}
	if !same {
		a.warn("session %s was amended since; this is the file it was logged from", short)
	}
	_, err = a.env.Stdout.Write(text)
	return writeFailed(err)
}

type amendOptions struct {
	text, file, why, format string
	inHold, addNew          bool
}

func newSessionAmendCommand(a *app) *cobra.Command {
	var o amendOptions
	cmd := &cobra.Command{
		Use:   "amend SESSION",
		Short: "Correct a session's note",
		Long: `Opens the session's note in your editor (VISUAL or EDITOR) and puts what you write in
its place. With --text or --file the new lines come from there; what they do not say
(dog, handler, start, place ...) stays as it was. The earlier form stays in the
history. A text with problems changes nothing, and none is lost: one from the editor
or from standard input is kept as a draft (firstcue draft list), or in a file that the
message names when the store can't be written.

` + handleHelp,
		Example: `  firstcue session amend last
  firstcue session amend last --text 'sit 3+, -' --why 'forgot the fourth'`,
		Args: takes(1, 1, "a session's handle"), ValidArgsFunction: inOrder(a.completeSessions),
		RunE: func(cmd *cobra.Command, args []string) error {
			given := cmd.Flags().Changed("text") || cmd.Flags().Changed("file")
			if cmd.Flags().Changed("text") && cmd.Flags().Changed("file") {
				return usagef("--text and --file do not go together")
			}
			return a.runAmend(cmd.Context(), args[0], given, o)
		},
	}
	cmd.Flags().StringVar(&o.text, "text", "", "the new `LINES` (\\n begins a new one)")
	cmd.Flags().StringVar(&o.file, "file", "", "the new lines from this `FILE`, - for standard input")
	cmd.Flags().StringVar(&o.why, "why", "", "why, in `WORDS`, for the history")
	cmd.Flags().BoolVar(&o.inHold, "in-hold", false, "the trials in a vet hold are meant")
	formatVar(cmd, &o.format, "text", "json")
	return cmd
}

func (a *app) runAmend(ctx context.Context, handle string, given bool, o amendOptions) error {
	var was training.Session
	var k training.Kennel
	var written = a.env.Now()
	err := a.reading(ctx, func(s *store.Store) (err error) {
		if was, err = a.session(ctx, s, handle); err != nil {
			return err
		}
		if h, err := s.History(ctx, was.ID); err == nil && len(h) > 0 {
			written = h[0].At.In(a.env.Now().Location())
		}
		k, err = s.Kennel(ctx)
		return err
	})
	if err != nil {
		return err
	}
	opt := note.Options{Kennel: k, Now: a.env.Now(), Written: written, DespiteHold: o.inHold}
	var now training.Session
	lost := func(err error) error { return err } // keeps a text of which there is no other copy
	done := func() {}
	if given {
		text := strings.ReplaceAll(o.text, `\n`, "\n")
		opt.Name = "--text"
		if o.file != "" {
			var raw []byte
			if opt.Name = o.file; o.file == "-" {
				opt.Name = "standard input"
				raw, err = readNote(a.input(ctx))
			} else {
				raw, err = readNoteFile(o.file)
			}
			if err != nil {
				return err
			}
			text = string(raw)
		}
		opt.Defaults = a.contextOf(was)
		res := note.Parse([]byte(text), opt)
		for _, p := range res.Problems {
			a.showProblem(p)
		}
		a.showWarnings(res.Warnings)
		if o.file == "-" {
			lost = func(err error) error {
				return a.keepText(ctx, err, "standard input", withContext(opt.Defaults, []byte(text)), func(file string) string { return amendAgain(was, file) })
			}
		}
		if now, err = oneSession(res); err != nil {
			return a.amendRefused(ctx, err, was, parsed{input{name: o.file, text: []byte(text), file: o.file != "" && o.file != "-", typed: o.file == ""}, res}, opt)
		}
	} else {
		e, err := a.newEditing(was)
		if err != nil {
			return err
		}
		if now, err = e.session(ctx, opt); err != nil {
			return err
		}
		lost, done = func(err error) error { return e.keep(ctx, err) }, e.done
	}
	stored := false
	err = a.withStore(ctx, store.Options{}, func(s *store.Store) error {
		dogs := []string{was.Dog}
		if now.Dog != was.Dog {
			dogs = append(dogs, now.Dog)
		}
		before, err := a.standings(ctx, s, dogs)
		if err != nil {
			return err
		}
		forms, err := a.headsOf(ctx, s, was.ID)
		if err != nil {
			return err
		}
		x, err := s.Amend(ctx, was.ID, now, o.why)
		if err != nil {
			return err
		}
		stored = true
		after, err := a.standings(ctx, s, dogs)
		if err != nil {
			return err
		}
		what := store.Amended
		if x.Revision == was.Revision {
			what = store.AlreadyStored
		} else if len(forms) > 0 {
			a.say("this settles what two stores said differently of the session")
		}
		return a.sayLogged(ctx, s, []store.Logged{{Session: x, What: what, Previous: &was}}, before, after, logOptions{format: o.format})
	})
	if !stored {
		return lost(err)
	}
	done()
	return err
}

// amendRefused says where a text that could not be taken still is. One from
// standard input is filed as a draft: there is no other copy of it.
func (a *app) amendRefused(ctx context.Context, err error, was training.Session, n parsed, opt note.Options) error {
	e, ok := err.(exitError)
	if !ok || len(n.Problems) == 0 {
		return err
	}
	switch {
	case n.file:
		return e.try("your text is untouched: %s", n.name)
	case n.typed:
		return e.try("your text is only in the command you typed")
	}
	return a.keepText(ctx, err, "standard input", withContext(opt.Defaults, n.text), func(file string) string { return amendAgain(was, file) })
}

// contextOf writes a session's setting as context lines in one line. The start
// is written as people write it, where that says the same moment.
func (a *app) contextOf(s training.Session) string {
	s.Trials, s.Remarks = nil, nil
	start := s.Start.Format("2006-01-02 15:04:05")
	start = strings.TrimSuffix(start, ":00")
	readable := false
	if t, err := note.ReadTime(start, a.env.Now()); err == nil {
		readable = t.Time.Equal(s.Start) && t.Warning == ""
	}
	var parts []string
	for _, line := range strings.Split(note.Format(s), "\n") {
		for _, p := range strings.Split(line, "; ") {
			if readable && strings.HasPrefix(p, "start: ") {
				p = "start: " + start
			}
			if p != "" {
				parts = append(parts, p)
			}
		}
	}
	return strings.Join(parts, "; ")
}

// oneSession returns the session that a corrected text makes.
func oneSession(res note.Result) (training.Session, error) {
	switch {
	case len(res.Problems) > 0:
		return training.Session{}, usagef("%s, nothing was changed", plural(len(res.Problems), "problem"))
	case len(res.Sessions) == 1:
		return res.Sessions[0], nil
	case len(res.Sessions) == 0:
		return training.Session{}, usagef("the text has no session; nothing was changed").try("to withdraw one: firstcue session void ID --why '...'")
	}
	return training.Session{}, usagef("the text makes %d sessions, and one is corrected at a time; nothing was changed", len(res.Sessions)).
		try("log the others as a note of their own")
}

// amendAgain says how the text in a file takes the session's place.
func amendAgain(was training.Session, file string) string {
	return "when it is right: firstcue session amend " + report.ShortID(was.ID) + " --file " + quote(file)
}

func newSessionVoidCommand(a *app) *cobra.Command {
	var why string
	cmd := &cobra.Command{
		Use:   "void SESSION",
		Short: "Withdraw a session, with a reason",
		Long: `Withdraws a session from every figure. It stays in the record with the reason, and
session unvoid brings it back.

` + handleHelp,
		Example: "  firstcue session void last --why 'wrong dog'",
		Args:    takes(1, 1, "a session's handle"), ValidArgsFunction: inOrder(a.completeSessions),
		RunE: func(cmd *cobra.Command, args []string) error {
			if strings.TrimSpace(why) == "" {
				return usagef("withdrawing a session needs its reason").try("--why 'wrong dog'")
			}
			return a.changeStanding(cmd.Context(), args[0], func(s *store.Store, x training.Session) (training.Session, error) {
				if x.Voided != "" {
					return x, usagef("it is withdrawn already: %s", x.Voided)
				}
				return s.Void(cmd.Context(), x.ID, why)
			})
		},
	}
	cmd.Flags().StringVar(&why, "why", "", "the reason, in `WORDS`")
	return cmd
}

func newSessionUnvoidCommand(a *app) *cobra.Command {
	var why string
	cmd := &cobra.Command{
		Use:     "unvoid SESSION",
		Short:   "Bring a withdrawn session back",
		Long:    "Brings a withdrawn session back into the figures.\n\n" + handleHelp,
		Example: "  firstcue session unvoid 1a2b3c4d --why 'it was the right dog after all'",
		Args:    takes(1, 1, "a session's handle"), ValidArgsFunction: inOrder(a.completeSessions),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.changeStanding(cmd.Context(), args[0], func(s *store.Store, x training.Session) (training.Session, error) {
				if x.Voided == "" {
					return x, usagef("the session is not withdrawn")
				}
				return s.Unvoid(cmd.Context(), x.ID, why)
			})
		},
	}
	cmd.Flags().StringVar(&why, "why", "", "the reason, in `WORDS`, for the history")
	return cmd
}

// changeStanding withdraws a session or brings it back, and says what changed.
func (a *app) changeStanding(ctx context.Context, handle string, do func(*store.Store, training.Session) (training.Session, error)) error {
	return a.withStore(ctx, store.Options{}, func(s *store.Store) error {
		was, err := a.session(ctx, s, handle)
		if err != nil {
			return err
		}
		before, err := a.standings(ctx, s, []string{was.Dog})
		if err != nil {
			return err
		}
		now, err := do(s, was)
		if err != nil {
			return err
		}
		after, err := a.standings(ctx, s, []string{was.Dog})
		if err != nil {
			return err
		}
		if err := a.sayDropped(ctx, s, []store.Logged{{Session: now, Previous: &was}}); err != nil {
			return err
		}
		word := "withdrawn"
		switch {
		case now.Voided == "" && was.Voided == "":
			word = "in force"
		case now.Voided == "":
			word = "brought back"
		}
		if a.quiet {
			return nil
		}
		a.printf("%s: %s %s, %s%s, %s  (session %s)\n", word, now.Dog, now.Start.Format("2006-01-02 15:04"), now.Handler, at(now.Place), trialCounts(now), report.ShortID(now.ID))
		rows := changedRows(now, before[was.Dog], after[was.Dog])
		if len(rows) > 0 {
			a.printf("\n")
			return writeFailed(a.grid(changeHeaders, rows, nil))
		}
		return nil
	})
}

var changeHeaders = []string{"dog", "cue", "first asks before", "now", "verdict"}

// changedRows is a row for each cue of the session: before and after.
func changedRows(s training.Session, before, after analysis.Assessment) [][]string {
	var rows [][]string
	var seen []string
	for _, t := range s.Trials {
		if slices.Contains(seen, t.Cue) {
			continue
		}
		seen = append(seen, t.Cue)
		rows = append(rows, changeRow(s.Dog, t.Cue, before, after))
	}
	return rows
}

// changeRow shows one cue before and after. A cue that was or is not asked at
// all has a dash there.
func changeRow(dog, cue string, before, after analysis.Assessment) []string {
	was, had := cueOf(before, cue)
	now, has := cueOf(after, cue)
	row := []string{dog, cue, "-", "-", ""}
	if had {
		row[2], row[4] = figure(was), string(was.Verdict)
	}
	if has {
		row[3] = figure(now)
		if had && was.Verdict != now.Verdict {
			row[4] += " -> " + string(now.Verdict)
		} else {
			row[4] = string(now.Verdict)
		}
	}
	return row
}

func newSessionSettleCommand(a *app) *cobra.Command {
	var why string
	cmd := &cobra.Command{
		Use:   "settle SESSION FORM",
		Short: "Choose which form of a session holds",
		Long: `Puts one form of a session in force. Where two stores said a session differently and
were joined, it ends the conflict; it also brings an earlier form back. session history
and store conflicts name the forms. All forms stay in the history, and an incident that
any of them tells of stays open until it is closed.

` + handleHelp,
		Example: "  firstcue session settle 1a2b3c4d 5e6f7a8b --why 'asked Bram'",
		Args:    takes(2, 2, "a session's handle and a form"), ValidArgsFunction: inOrder(a.completeSessions),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.changeStanding(cmd.Context(), args[0], func(s *store.Store, x training.Session) (training.Session, error) {
				forms, err := s.Forms(cmd.Context(), x.ID)
				if err != nil {
					return x, err
				}
				all, err := s.History(cmd.Context(), x.ID)
				if err != nil {
					return x, err
				}
				form := strings.ToLower(args[1])
				for _, r := range all {
					if r.Shown && len(forms) == 0 && len(form) >= 4 && strings.HasSuffix(r.ID, form) {
						return x, usagef("form %s is in force already, and there is nothing to settle", args[1])
					}
				}
				return s.Settle(cmd.Context(), x.ID, form, why)
			})
		},
	}
	cmd.Flags().StringVar(&why, "why", "", "the reason, in `WORDS`, for the history")
	return cmd
}

type revisionJSON struct {
	Form      string      `json:"form"`
	Writer    string      `json:"writer"`
	ToSettle  bool        `json:"toSettle"`
	Revision  int         `json:"revision"`
	At        string      `json:"at"`
	Why       string      `json:"why"`
	Withdrawn *string     `json:"withdrawn"`
	InForce   bool        `json:"inForce"`
	Session   sessionJSON `json:"session"`
}

func newSessionHistoryCommand(a *app) *cobra.Command {
	var format string
	cmd := &cobra.Command{
		Use:     "history SESSION",
		Short:   "Show every form a session has had",
		Long:    "Shows a session's revisions, oldest first, each with what changed in its note.\n\n" + handleHelp,
		Example: "  firstcue session history last",
		Args:    takes(1, 1, "a session's handle"), ValidArgsFunction: inOrder(a.completeSessions),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return a.readingSession(ctx, args[0], func(s *store.Store, x training.Session) error {
				all, err := s.History(ctx, x.ID)
				if err != nil {
					return err
				}
				heads, err := a.headsOf(ctx, s, x.ID)
				if err != nil {
					return err
				}
				if format == "json" {
					out := []revisionJSON{}
					for _, r := range all {
						j := sessionToJSON(r.Session)
						out = append(out, revisionJSON{r.ID, r.Writer, slices.Contains(heads, r.ID), r.Number, r.At.Format("2006-01-02T15:04:05Z07:00"), r.Why, j.Withdrawn, r.Shown, j})
					}
					return writeFailed(a.json(struct {
						Schema    string         `json:"schema"`
						ID        string         `json:"id"`
						Revisions []revisionJSON `json:"revisions"`
					}{schema("history"), x.ID, out}))
				}
				a.printf("session %s: %s %s, %s%s\n", report.ShortID(x.ID), x.Dog, x.Start.Format("2006-01-02 15:04"), x.Handler, at(x.Place))
				// Where the number does not tell the forms apart, each has its own name.
				named := len(heads) > 0 || slices.ContainsFunc(all, func(r store.Revision) bool { return r.Writer != all[0].Writer })
				said := map[string]training.Session{}
				for i, r := range all {
					// What changed is what differs from the form it was written
					// in sight of; of a second beginning, from the first one.
					before := all[max(0, i-1)].Session
					if len(r.Parents) == 0 {
						before = all[0].Session
					}
					for _, p := range r.Parents {
						if x, ok := said[p]; ok {
							before = x
						}
					}
					said[r.ID] = r.Session
					a.printf("\nrevision %d", r.Number)
					if named {
						a.printf(" (form %s)", report.ShortID(r.ID))
					}
					a.printf(", %s", r.At.In(a.env.Now().Location()).Format("2006-01-02 15:04"))
					if named {
						a.printf(", %s", writtenIn(r.Writer, s.Writer(), "", ""))
					}
					a.printf("%s", revisionWords(r, before, i == 0))
					switch {
					case r.Shown && len(heads) > 0:
						a.printf(" (in force, and to settle)")
					case r.Shown:
						a.printf(" (in force)")
					case slices.Contains(heads, r.ID):
						a.printf(" (to settle)")
					}
					a.printf("\n")
					if i == 0 {
						a.printf("%s\n", indent(strings.TrimRight(noteOf(r.Session), "\n"), "    "))
					} else if d := sessionDiff(before, r.Session); d != "" {
						a.printf("%s\n", indent(d, "  "))
					}
				}
				if len(heads) > 0 {
					a.say("\ntwo stores said this session differently; choose: firstcue session settle %s FORM", report.ShortID(x.ID))
				}
				return nil
			})
		},
	}
	formatVar(cmd, &format, "text", "json")
	return cmd
}

// headsOf returns the forms of a session between which somebody must choose.
func (a *app) headsOf(ctx context.Context, s *store.Store, id string) ([]string, error) {
	forms, err := s.Forms(ctx, id)
	var out []string
	for _, f := range forms {
		out = append(out, f.ID)
	}
	return out, err
}

// writtenIn says in which store a form was written, as far as it is known.
func writtenIn(writer, here, other, file string) string {
	switch {
	case writer == here:
		return "written here"
	case other != "" && writer == other:
		return "from " + file
	}
	return "written in store " + writer[:min(8, len(writer))]
}

// revisionWords says what a revision did, and why.
func revisionWords(r store.Revision, before training.Session, first bool) string {
	what := ""
	switch {
	case r.Kind == "undo" && r.Voided != "":
		what = "undone, so withdrawn"
		if r.Voided != store.ReasonUndone {
			what += ": " + printable(r.Voided)
		}
		return ", " + what
	case r.Kind == "undo":
		return ", undone"
	case r.Voided != "":
		return ", withdrawn: " + printable(r.Voided)
	case !first && before.Voided != "":
		what = ", brought back"
	case r.Number == 1:
		what = ", as first logged"
	}
	if r.Why != "" {
		what += ", " + printable(r.Why)
	}
	return what
}

var contextLine = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^\s*(?i:dog|handler|scorer|start|place|leash|distraction|device|level|weather|reward|source|baseline)\s*:`)
})

// sessionDiff shows what differs between two forms of a session: of what stands
// before the first trial only what it means, because it may be written in many
// ways.
func sessionDiff(a, b training.Session) string {
	lines := func(s training.Session) string {
		bare := s
		bare.Trials, bare.Remarks, bare.Note, bare.Carried = nil, nil, "", ""
		var out []string
		for _, l := range strings.Split(note.Format(bare), "\n") {
			for _, p := range strings.Split(l, "; ") {
				if p != "" {
					out = append(out, p)
				}
			}
		}
		body := strings.Split(strings.TrimRight(noteOf(s), "\n"), "\n")
		for len(body) > 0 && (contextLine().MatchString(body[0]) || strings.TrimSpace(body[0]) == "") {
			body = body[1:]
		}
		return strings.Join(append(out, body...), "\n")
	}
	return lineDiff(lines(a), lines(b))
}

func indent(text, by string) string {
	return by + strings.ReplaceAll(text, "\n", "\n"+by)
}

// lineDiff shows the lines that were taken out (-) and put in (+), by the
// longest common subsequence of lines.
func lineDiff(old, new string) string {
	a, b := strings.Split(old, "\n"), strings.Split(new, "\n")
	common := make([][]int, len(a)+1)
	for i := range common {
		common[i] = make([]int, len(b)+1)
	}
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			if a[i] == b[j] {
				common[i][j] = common[i+1][j+1] + 1
			} else {
				common[i][j] = max(common[i+1][j], common[i][j+1])
			}
		}
	}
	var out []string
	i, j := 0, 0
	for i < len(a) || j < len(b) {
		switch {
		case i < len(a) && j < len(b) && a[i] == b[j]:
			i++
			j++
		case i < len(a) && (j == len(b) || common[i+1][j] >= common[i][j+1]):
			out = append(out, "- "+a[i])
			i++
		default:
			out = append(out, "+ "+b[j])
			j++
		}
	}
	return strings.Join(out, "\n")
}

// completeSessions completes the latest sessions' handles.
func (a *app) completeSessions(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	latest := forCompletion(a, func(ctx context.Context, s *store.Store) ([]training.Session, error) {
		return s.Sessions(ctx, store.Filter{Limit: 50, IncludeVoided: true})
	})
	out := []string{}
	if strings.HasPrefix("last", typed) {
		out = append(out, cobra.CompletionWithDesc("last", "the session that began last"))
	}
	for _, x := range slices.Backward(latest) {
		if h := report.ShortID(x.ID); strings.HasPrefix(h, typed) {
			out = append(out, cobra.CompletionWithDesc(h, fmt.Sprintf("%s %s, %s%s", x.Dog, x.Start.Format("2 Jan 15:04"), x.Handler, at(x.Place))))
		}
	}
	return out, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
}

func (a *app) completeIncidents(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	all := forCompletion(a, func(ctx context.Context, s *store.Store) ([]training.Incident, error) { return s.Incidents(ctx, "") })
	var out []string
	for _, i := range all {
		if h := report.ShortID(i.ID); i.Closed == 0 && strings.HasPrefix(h, typed) {
			out = append(out, cobra.CompletionWithDesc(h, i.Dog+" "+i.Day.String()+": "+i.Text))
		}
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}
