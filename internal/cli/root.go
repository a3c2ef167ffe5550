package cli

import (
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"strings"
	"sync"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"firstcue/internal/note"
)

const rootLong = `firstcue keeps the training record of dogs that board with a trainer for some
weeks, and says, with its reasons, which cues a dog answers on the first ask,
for anyone, anywhere.

Write a note after each session, log it, read the report:

  firstcue dog add Tarn --arrived today --due 2026-03-21   a dog arrives
  firstcue log tuesday.txt                                 its sessions
  firstcue report Tarn                                     is it ready, and why

firstcue demo shows the whole job on an invented kennel and leaves nothing
behind. The notation of a note: firstcue log --help.

The store is one file: ~/.local/share/firstcue/kennel.db (or the system's usual
place) unless --store FILE or the variable FIRSTCUE_STORE names another.`

// Command groups of the root's help, in the order of a working day.
const (
	groupDaily  = "daily"
	groupJudge  = "judge"
	groupKennel = "kennel"
	groupKeep   = "keep"
)

// newRoot builds the command tree. Every command is named here and nowhere else.
func newRoot(a *app) *cobra.Command {
	root := &cobra.Command{
		Use:           "firstcue",
		Short:         "The training record of boarding dogs, and what it shows",
		Long:          rootLong,
		Example:       "  firstcue demo",
		Version:       version(),
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	root.PersistentFlags().StringVar(&a.store, "store", "", "use this `FILE` as the store")
	root.PersistentFlags().BoolVar(&a.noColor, "no-color", false, "no colour, even on a terminal (as NO_COLOR does)")
	root.PersistentFlags().BoolVarP(&a.quiet, "quiet", "q", false, "say nothing but the answer")
	root.SetVersionTemplate("firstcue {{.Version}}\n")
	root.SetHelpTemplate(`{{with (or .Long .Short)}}{{. | trimTrailingWhitespaces}}

{{end}}{{if or .Runnable .HasSubCommands}}{{.UsageString}}{{end}}{{exitCodes .}}`)
	helpFunctions()
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		if word := strayWord(cmd, a.env.Args); word != "" {
			return unknownCommand(cmd, word)
		}
		return flagError(cmd, err)
	})
	root.AddGroup(
		&cobra.Group{ID: groupDaily, Title: "After a session:"},
		&cobra.Group{ID: groupJudge, Title: "What it shows:"},
		&cobra.Group{ID: groupKennel, Title: "The kennel's lists:"},
		&cobra.Group{ID: groupKeep, Title: "The program and its file:"},
	)
	root.SetHelpCommand(newHelpCommand())
	root.SetHelpCommandGroupID(groupKeep)
	root.SetCompletionCommandGroupID(groupKeep)
	root.CompletionOptions.DisableDefaultCmd = true

	in := func(id string, cmds ...*cobra.Command) []*cobra.Command {
		for _, c := range cmds {
			c.GroupID = id
		}
		return cmds
	}
	var all []*cobra.Command
	all = append(all, in(groupDaily,
		newLogCommand(a),
		newLiveCommand(a),
		newImportCommand(a),
		newSessionsCommand(a),
		newSessionCommand(a),
		newUndoCommand(a),
		newDraftCommand(a),
		newAgreeCommand(a),
	)...)
	all = append(all, in(groupJudge,
		newReportCommand(a),
		newNightlyCommand(a),
		newProgressCommand(a),
		newPlanCommand(a),
		newExportCommand(a),
		newPacketCommand(a),
		newMessageCommand(a),
		newLessonCommand(a),
		newBriefCommand(a),
		newRecheckCommand(a),
		newCriteriaCommand(a),
	)...)
	all = append(all, in(groupKennel,
		newDogCommand(a),
		newHandlerCommand(a),
		newPlaceCommand(a),
		newCueCommand(a),
		newDeviceCommand(a),
		newIncidentCommand(a),
	)...)
	all = append(all, in(groupKeep,
		newStoreCommand(a),
		newDemoCommand(a),
		newStatsCommand(a.env),
		newCompletionCommand(a),
	)...)
	root = group(root, all...)
	eachCommand(root, func(c *cobra.Command) {
		c.DisableFlagsInUseLine = true
		c.Flags().SortFlags = false
		if c.ValidArgsFunction == nil && len(c.ValidArgs) == 0 {
			c.ValidArgsFunction = cobra.NoFileCompletions
		}
	})
	return root
}

// newHelpCommand is "firstcue help COMMAND", which refuses what is no command.
func newHelpCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "help [COMMAND]",
		Short:   "Help about any command",
		Long:    "Prints a command's help, as COMMAND --help does. \"help note\" shows how a session note is\nwritten, on one screen.",
		Example: "  firstcue help log\n  firstcue help dog add\n  firstcue help note",
		Args:    func(*cobra.Command, []string) error { return nil },
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 && args[0] == "note" {
				_, err := io.WriteString(cmd.OutOrStdout(), note.Help)
				return err
			}
			at := cmd.Root()
			for _, word := range args {
				next, _, err := at.Find([]string{word})
				if err != nil || next == at {
					return unknownCommand(at, word)
				}
				at = next
			}
			return at.Help()
		},
	}
}

// helpFunctions gives cobra's templates ours, once: its table is one for the
// whole process, and two commands of one process may begin at the same time.
var helpFunctions = sync.OnceFunc(func() {
	cobra.EnableCommandSorting = false // the order is that of the work
	cobra.AddTemplateFunc("exitCodes", exitCodes)
})

func eachCommand(c *cobra.Command, f func(*cobra.Command)) {
	f(c)
	for _, sub := range c.Commands() {
		eachCommand(sub, f)
	}
}

func exitCodes(c *cobra.Command) string {
	s := "\n" + exitHelp
	if c.Flags().Lookup("exit-code") != nil || !c.HasParent() {
		s += exitHelpAttention
	}
	if !c.HasParent() {
		s += exitHelpEnded
	}
	return s
}

// version names the commit the program was built from, when the Go tool knew it.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	v := info.Main.Version
	if v == "" || v == "(devel)" {
		v = "development"
	}
	return v
}

// strayWord returns the word of the command line that should have been one of
// the group's commands. A mistyped command takes its flags with it, and then it
// is the command that must be named and not the flag.
func strayWord(cmd *cobra.Command, args []string) string {
	if cmd.Annotations[isGroup] == "" {
		return ""
	}
	path := strings.Fields(cmd.CommandPath())[1:]
	for i := 0; i < len(args); i++ {
		switch w := args[i]; {
		case w == "--store":
			i++
		case strings.HasPrefix(w, "-"):
		case len(path) > 0 && w == path[0]:
			path = path[1:]
		default:
			return w
		}
	}
	return ""
}

// flagError says what is wrong with a flag and, for an unknown one, which was
// probably meant. Flags are named as they were typed.
func flagError(cmd *cobra.Command, err error) error {
	if errors.Is(err, pflag.ErrHelp) {
		return err
	}
	lists := cmd.CommandPath() + " --help lists the flags"
	var invalid *pflag.InvalidValueError
	var missing *pflag.ValueRequiredError
	var unknown *pflag.NotExistError
	switch {
	case errors.As(err, &invalid):
		f := invalid.GetFlag()
		if f.Value.Type() == "int" {
			what, example := countOf(f)
			return usagef("--%s: %q is not %s; write --%s %s", f.Name, invalid.GetValue(), what, f.Name, example)
		}
		return usagef("--%s: %q: %v", f.Name, invalid.GetValue(), invalid.Unwrap()).try("%s", lists)
	case errors.As(err, &missing):
		what, example := valueOf(missing.GetFlag())
		typed := asTyped(missing.GetSpecifiedName(), missing.GetSpecifiedShortnames())
		return usagef("%s needs %s: %s %s", typed, what, typed, example)
	case errors.As(err, &unknown):
		typed := asTyped(unknown.GetSpecifiedName(), unknown.GetSpecifiedShortnames())
		e := usagef("%s has no flag %s", cmd.CommandPath(), typed)
		if d := strings.TrimPrefix(typed, "-"); d != "" && d[0] >= '0' && d[0] <= '9' {
			return e.try("a value that begins with a minus stands after --, as in: %s ... -- %s", cmd.CommandPath(), typed)
		}
		var names []string
		add := func(f *pflag.Flag) {
			if !f.Hidden {
				names = append(names, f.Name)
			}
		}
		cmd.Flags().VisitAll(add)
		cmd.InheritedFlags().VisitAll(add)
		if near := note.Nearest(unknown.GetSpecifiedName(), names); len(near) > 0 {
			return e.try("did you mean --%s?", strings.Join(near, " or --"))
		}
		return e.try("%s", lists)
	}
	return usagef("%s", strings.TrimSuffix(err.Error(), ".")).try("%s", lists)
}

// asTyped is a flag with the dashes it was typed with. Several letters behind one
// dash, short, are flags of one letter each, of which name is the one meant; but
// digits are a number.
func asTyped(name, short string) string {
	switch {
	case short == "":
		return "--" + name
	case short[0] >= '0' && short[0] <= '9':
		return "-" + short
	}
	return "-" + name
}

// countOf says what a flag that takes a whole number counts, and gives one.
func countOf(f *pflag.Flag) (what, example string) {
	example = f.DefValue
	if example == "0" {
		example = "1"
	}
	switch f.Name {
	case "minutes":
		return "a number of minutes", "10"
	case "keep":
		return "a number of copies", "7"
	}
	return "a whole number", example
}

// valueOf says what a flag takes and gives an example, by the word that stands
// for its value in the help.
func valueOf(f *pflag.Flag) (what, example string) {
	word, _ := pflag.UnquoteUsage(f)
	switch word {
	case "DOG":
		return "a name", "Tarn"
	case "NAME":
		return "a name", map[bool]string{true: "Tarn", false: "Ailsa"}[f.Name == "dog"]
	case "PLACE":
		return "a name", "paddock"
	case "CUE":
		return "a cue", "sit"
	case "DEVICE":
		return "a name", "'blue remote'"
	case "DAY":
		return "a day", "yesterday"
	case "TIME":
		switch f.Name {
		case "start":
			return "a time", "'today 9:10'"
		case "at":
			return "a time of day", "9:00"
		}
		return "a time", "3s"
	case "CODE":
		return "a code from 0 to 4", "1"
	case "STATE":
		return "a leash state", "off"
	case "NUMBER", "int", "SECONDS":
		if f.Value.Type() == "int" {
			return countOf(f)
		}
		return "a number", "2"
	case "FILE":
		return "a file", "FILE"
	}
	if c, ok := f.Value.(choice); ok {
		return "one of " + strings.Join(c.allowed, ", "), c.allowed[0]
	}
	return "a value", word
}

// unknownCommand refuses a word that is no command, with the nearest one.
func unknownCommand(cmd *cobra.Command, word string) error {
	var names []string
	for _, c := range cmd.Commands() {
		if c.IsAvailableCommand() {
			names = append(names, c.Name())
			names = append(names, c.Aliases...)
		}
	}
	e := usagef("%s has no command %q", cmd.CommandPath(), word)
	if cmd.Flags().Lookup(word) != nil || word == "version" && !cmd.HasParent() {
		return e.try("did you mean %s --%s?", cmd.CommandPath(), word)
	}
	near := note.Nearest(word, names)
	if len(near) == 0 {
		return e.try("%s --help lists the commands", cmd.CommandPath())
	}
	for i := range near {
		near[i] = cmd.CommandPath() + " " + near[i]
	}
	return e.try("did you mean %s?", strings.Join(near, " or "))
}

// takes checks the number of arguments; names says what they are, in the order
// and spelling of the usage line.
func takes(least, most int, names string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case len(args) < least:
			return usagef("%s needs %s", cmd.CommandPath(), names).try("%s --help shows how it is used", cmd.CommandPath())
		case most >= 0 && len(args) > most:
			extra := fmt.Sprintf("%q", args[most])
			e := usagef("%s has no use for %s", cmd.CommandPath(), extra)
			if most > 0 {
				return e.try("a name of several words needs quotes: '%s'", strings.Join(args, " "))
			}
			return e.try("%s --help shows how it is used", cmd.CommandPath())
		}
		return nil
	}
}
