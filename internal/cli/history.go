package cli

import (
	"context"
	"regexp"
	"slices"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"firstcue/internal/note"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

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
					return writeFailed(a.json(historyJSON{schema("history"), x.ID, out}))
				}
				a.showHistory(s, x, all, heads)
				return nil
			})
		},
	}
	formatVar(cmd, &format, "text", "json")
	return cmd
}

// showHistory prints every form of a session. heads are those between which
// somebody must choose.
func (a *app) showHistory(s *store.Store, x training.Session, all []store.Revision, heads []string) {
	a.printf("session %s: %s %s, %s%s\n", report.ShortID(x.ID), x.Dog, x.Start.Format("2006-01-02 15:04"), x.Handler, at(x.Place))
	// Where the number does not tell the forms apart, each has its own name.
	named := len(heads) > 0 || slices.ContainsFunc(all, func(r store.Revision) bool { return r.Writer != all[0].Writer })
	said := map[string]training.Session{}
	for i, r := range all {
		before := inSightOf(r, i, all, said)
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
}

// inSightOf is the form that what changed in a revision is held against: the one
// it was written in sight of; of a second beginning, the first one.
func inSightOf(r store.Revision, i int, all []store.Revision, said map[string]training.Session) training.Session {
	before := all[max(0, i-1)].Session
	if len(r.Parents) == 0 {
		before = all[0].Session
	}
	for _, p := range r.Parents {
		if x, ok := said[p]; ok {
			before = x
		}
	}
	return before
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
		var out []string
		for _, f := range note.Context(s) {
			out = append(out, f.String())
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
