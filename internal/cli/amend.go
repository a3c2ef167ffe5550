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

// corrected is a session as its corrected text makes it.
type corrected struct {
	session training.Session
	keep    func(error) error // says where the text is when it could not be stored
	done    func()            // tidies up when it is stored
}

func (a *app) runAmend(ctx context.Context, handle string, given bool, o amendOptions) error {
	was, opt, err := a.toAmend(ctx, handle)
	if err != nil {
		return err
	}
	opt.DespiteHold = o.inHold
	text := a.correctedInEditor
	if given {
		text = func(ctx context.Context, was training.Session, opt note.Options) (corrected, error) {
			return a.correctedBy(ctx, was, o, opt)
		}
	}
	c, err := text(ctx, was, opt)
	if err != nil {
		return err
	}
	stored, err := a.amend(ctx, was, c.session, o)
	if !stored {
		return c.keep(err)
	}
	c.done()
	return err
}

// toAmend finds the session to correct, and how its text is to be read.
func (a *app) toAmend(ctx context.Context, handle string) (was training.Session, opt note.Options, err error) {
	opt.Now, opt.Written = a.env.Now(), a.env.Now()
	err = a.reading(ctx, func(s *store.Store) (err error) {
		if was, err = a.session(ctx, s, handle); err != nil {
			return err
		}
		if h, err := s.History(ctx, was.ID); err == nil && len(h) > 0 {
			opt.Written = h[0].At.In(a.env.Now().Location())
		}
		opt.Kennel, err = s.Kennel(ctx)
		return err
	})
	return was, opt, err
}

// correctedBy takes the new lines from --text or --file. What they do not say
// stays as it was. Of a text from standard input there is no other copy.
func (a *app) correctedBy(ctx context.Context, was training.Session, o amendOptions, opt note.Options) (corrected, error) {
	text := []byte(strings.ReplaceAll(o.text, `\n`, "\n"))
	var err error
	switch opt.Name = o.file; o.file {
	case "":
		opt.Name = "--text"
	case "-":
		opt.Name = "standard input"
		text, err = readNote(a.input(ctx))
	default:
		text, err = readNoteFile(o.file)
	}
	if err != nil {
		return corrected{}, err
	}
	opt.Defaults = a.contextOf(was)
	c := corrected{keep: func(err error) error { return err }, done: func() {}}
	if o.file == "-" {
		c.keep = func(err error) error {
			return a.keepText(ctx, err, opt.Name, withContext(opt.Defaults, text), func(file string) string { return amendAgain(was, file) })
		}
	}
	res := note.Parse(text, opt)
	for _, p := range res.Problems {
		a.showProblem(p)
	}
	a.showWarnings(res.Warnings)
	c.session, err = oneSession(res)
	switch {
	case err == nil:
		return c, nil
	case o.file == "-" || len(res.Problems) == 0:
		return c, c.keep(err)
	case o.file != "":
		return c, hinted(err, "your text is untouched: "+o.file)
	}
	return c, hinted(err, "your text is only in the command you typed")
}

// correctedInEditor lets the person change the note in the editor.
func (a *app) correctedInEditor(ctx context.Context, was training.Session, opt note.Options) (corrected, error) {
	text, asWritten := note.TextOf(was, opt)
	if !asWritten && was.Note != "" {
		a.say("the note would be read differently today: it is shown as its trials were stored")
	}
	e, err := a.newEditing(was, text)
	if err != nil {
		return corrected{}, err
	}
	now, err := e.session(ctx, opt)
	return corrected{now, func(err error) error { return e.keep(ctx, err) }, e.done}, err
}

// amend puts the corrected session in the place of what it was, and says what
// that changed. Stored is true once it is in the store, whatever fails then.
func (a *app) amend(ctx context.Context, was, now training.Session, o amendOptions) (stored bool, err error) {
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
	return stored, err
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
