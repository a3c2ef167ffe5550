package cli

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/note"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

type amendOptions struct {
	text, file, why, format string
	inHold                  bool
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
	start := s.Start.Format("2006-01-02 15:04:05")
	start = strings.TrimSuffix(start, ":00")
	readable := false
	if t, err := note.ReadTime(start, a.env.Now()); err == nil {
		readable = t.Time.Equal(s.Start) && t.Warning == ""
	}
	var parts []string
	for _, f := range note.Context(s) {
		if readable && f.Key == "start" {
			f.Value = start
		}
		parts = append(parts, f.String())
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
