package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newStoreCommand(a *app) *cobra.Command {
	return group(&cobra.Command{
		Use:   "store",
		Short: "The file: where it is, is it sound, copies, joining two",
		Long: `The store is one file. Copy it with backup, not by hand: backup is whole even while
somebody logs.`,
		Example: "  firstcue store where",
	}, newStoreWhereCommand(a), newStoreCheckCommand(a), newStoreRebuildCommand(a), newStoreBackupCommand(a), newStoreRestoreCommand(a), newStoreMergeCommand(a), newStoreConflictsCommand(a), newStoreBundleCommand(a), newStoreJournalCommand(a))
}

func newStoreWhereCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "where",
		Short:   "Print where the store is, and why there",
		Long:    "Prints the path of the store on standard output, and on standard error what named it.",
		Example: "  firstcue store where",
		Args:    takes(0, 0, "no argument"),
		RunE: func(*cobra.Command, []string) error {
			path, err := a.storePath()
			if err != nil {
				return err
			}
			if abs, err := filepath.Abs(path); err == nil {
				path = abs
			}
			a.printf("%s\n", path)
			why := "the usual place"
			switch {
			case a.store != "":
				why = "named by --store"
			case a.env.Getenv("FIRSTCUE_STORE") != "":
				why = "named by FIRSTCUE_STORE"
			case filepath.IsAbs(a.env.Getenv("XDG_DATA_HOME")):
				why = "in XDG_DATA_HOME"
			}
			if !storeExists(path) {
				why += "; there is no file yet"
			}
			a.say("%s", why)
			return nil
		},
	}
}

// orNull is nil for what is not known.
func orNull(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

func alteredSessionsJSON(list []store.AlteredSession) []alteredJSON {
	out := []alteredJSON{}
	for _, x := range list {
		out = append(out, alteredJSON{x.ID, orNull(x.Dog), x.Start})
	}
	return out
}

func alteredTextsJSON(list []store.AlteredText) []alteredTextJSON {
	out := []alteredTextJSON{}
	for _, x := range list {
		out = append(out, alteredTextJSON{x.Batch, x.Kind, x.At, orNull(x.Name), alteredSessionsJSON(x.Sessions), x.Trusted})
	}
	return out
}

func newStoreCheckCommand(a *app) *cobra.Command {
	var format, salvage string
	cmd := &cobra.Command{
		Use:   "check [FILE]",
		Short: "Look whether the store, or a copy, is sound",
		Long: `Looks a store over: the database's own checks, references, and the fingerprint of
every session, kept note and change of the lists, so that one altered by a failing disk
is found too, and named. Nothing is changed.
A damaged store exits with 1. --salvage FILE makes a new store of all that is whole,
also of a file that was cut short, as far as its sessions lie on what is left.`,
		Example: "  firstcue store check",
		Args:    takes(0, 1, "at most a file"), ValidArgsFunction: completeFiles,
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			path, err := a.storePath()
			if err != nil {
				return err
			}
			if len(args) > 0 {
				path = args[0]
				if info, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
					return noSuchFile(path, "nothing was looked at")
				} else if err == nil && info.IsDir() {
					return usagef("%s: this is a folder; name a file in it", path)
				}
			} else if _, err := a.noStoreYet(); err != nil {
				return err
			}
			h, err := store.Check(ctx, path)
			if errors.Is(err, store.ErrNotStore) && len(args) > 0 {
				return failedf(err, "%s: this is not a firstcue store, or its first page is damaged; it was left untouched", path)
			}
			if errors.Is(err, store.ErrDamaged) && len(args) > 0 {
				return failedf(err, "%s: this file is damaged and nothing of it can be read; it was left untouched", path).try("take another copy")
			}
			if err != nil {
				return a.storeError(err)
			}
			left, err := a.toSettle(ctx, path, h)
			if err != nil {
				return err
			}
			if format == "json" {
				if err := a.json(healthJSON{schema("check"), h.Path, h.Sound, h.Size, h.Version, h.Dogs, h.Sessions, h.Revisions, h.Trials, h.Lost, h.Standing, len(left), append(h.Problems, h.Faults...), alteredSessionsJSON(h.Altered), alteredTextsJSON(h.Texts)}); err != nil {
					return writeFailed(err)
				}
			} else {
				state := "sound"
				if !h.Sound {
					state = "DAMAGED; what could be read of it:"
				}
				a.printf("%s: %s\n%s; in force: %s in %s; kept: %s", path, state, plural(h.Dogs, "dog"), plural(h.Trials, "trial"), plural(h.Standing, "session"), plural(h.Revisions, "revision"))
				if gone := h.Sessions - h.Standing; gone > 0 {
					a.printf(", %s withdrawn", plural(gone, "session"))
				}
				a.printf("\n")
				for _, p := range h.Problems {
					a.printf("  %s\n", p)
				}
				for _, l := range alteredLines(h.Altered) {
					a.printf("  altered: %s\n", l)
				}
				for _, l := range alteredTextLines(h) {
					a.printf("  altered: %s\n", l)
				}
				for _, l := range faultLines(h.Faults) {
					a.printf("  the file: %s\n", l)
				}
				for _, l := range left {
					a.printf("%s\n", l)
				}
			}
			if salvage != "" {
				saved, err := store.Salvage(ctx, path, salvage)
				if err != nil {
					return a.storeError(err)
				}
				a.say("saved into %s: %s in %s", salvage, plural(saved.Trials, "trial"), plural(saved.Sessions, "session"))
				for _, l := range alteredLines(h.Altered) {
					a.say("  left out, altered: %s", l)
				}
				for _, l := range alteredTextLines(h) {
					a.say("  left out, altered: %s", l)
				}
				if more := h.Lost - len(h.Altered); more > 0 {
					a.say("  left out: %d more forms of sessions that can't be read", more)
				}
				if !h.Sound {
					a.say("bring back what is missing from a backup or another laptop's store: firstcue --store %s store merge COPY", quote(salvage))
					if len(args) == 0 {
						a.say("then put it in the store's place: %s store restore %s --confirm (the damaged file is kept)", a.command(), quote(salvage))
					}
				}
				return nil
			}
			if !h.Sound {
				what, file := "the store", ""
				if len(args) > 0 {
					what, file = path, " "+quote(path)
				}
				e := failedf(nil, "%s is damaged", what)
				e.hint = fmt.Sprintf("%[1]s store check%[2]s --salvage NEW.db saves what is whole,\nfirstcue --store NEW.db store merge COPY brings the rest back from a backup or another laptop", a.command(), file)
				if len(args) == 0 {
					e.hint += fmt.Sprintf(", and\n%[1]s store restore NEW.db --confirm puts it in the store's place (the damaged file is kept)\nor put a backup in its place as it is: %[1]s store restore COPY", a.command())
				}
				return e
			}
			return nil
		},
	}
	formatVar(cmd, &format, "text", "json")
	cmd.Flags().StringVar(&salvage, "salvage", "", "save all that is whole into a new store `FILE`")
	return cmd
}

func newStoreRebuildCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "rebuild",
		Short: "Work out the lists and indexes anew from the documents",
		Long: `Everything that is kept stands in the store as documents, each with its hash. What is
listed and searched is worked out from them. Where store check says that a table does
not say what the documents say, this makes it anew. No document is changed.`,
		Example: "  firstcue store rebuild",
		Args:    takes(0, 0, "no argument"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.withStore(cmd.Context(), store.Options{}, func(s *store.Store) error {
				if err := s.Rebuild(cmd.Context()); err != nil {
					return err
				}
				a.say("worked out anew from the documents; look it over: %s store check", a.command())
				return nil
			})
		},
	}
}

// manyFaults is how many faults of the file are shown; what they say helps few.
const manyFaults = 3

var (
	faultPage  = regexp.MustCompile(`(?i)\bpage (\d+)`)
	faultIndex = regexp.MustCompile(`(?:missing from|in|from) index (\w+)|index (\w+)`)
	faultValue = regexp.MustCompile(`(?:constraint failed|value) in (\w+)`)
)

// faultLines says in plain words what SQLite found in the file itself.
func faultLines(faults []string) []string {
	var out []string
	for _, f := range faults {
		l := "a part of it can't be read"
		if m := faultPage.FindStringSubmatch(f); m != nil {
			l = fmt.Sprintf("page %s of it is damaged", m[1])
		} else if m := faultValue.FindStringSubmatch(f); m != nil {
			l = fmt.Sprintf("a value in the table %s can't be right", m[1])
		} else if m := faultIndex.FindStringSubmatch(f); m != nil {
			l = fmt.Sprintf("the index %s does not fit its table", cmp.Or(m[1], m[2]))
		}
		if !slices.Contains(out, l) {
			out = append(out, l)
		}
	}
	if more := len(out) - manyFaults; more > 1 {
		out = append(out[:manyFaults], fmt.Sprintf("and %d more places (--format json lists what the database says of them)", more))
	}
	return out
}

// manyAltered is how many altered sessions are named one by one.
const manyAltered = 50

// alteredLines names sessions as far as the damaged file still does.
func alteredLines(list []store.AlteredSession) []string {
	var out []string
	for i, x := range list {
		if i == manyAltered {
			return append(out, fmt.Sprintf("and %d more", len(list)-i))
		}
		start := x.Start
		if at, err := time.Parse(time.RFC3339, start); err == nil {
			start = at.Format("2006-01-02 15:04")
		}
		out = append(out, fmt.Sprintf("%s %s (session %s)", printable(cmp.Or(x.Dog, "a dog whose name is lost,")), printable(start), printable(report.ShortID(x.ID))))
	}
	return out
}

// alteredTextLines names kept notes and files, and says what of them can still be
// trusted.
func alteredTextLines(h store.Health) []string {
	var out []string
	for i, x := range h.Texts {
		if i == manyAltered {
			return append(out, fmt.Sprintf("and %d more texts", len(h.Texts)-i))
		}
		at := x.At
		if t, err := time.Parse(time.RFC3339, at); err == nil {
			at = t.Format("2006-01-02 15:04")
		}
		did := map[string]string{"log": "logged", "import": "imported", "amend": "amended"}[x.Kind]
		s := fmt.Sprintf("the text of %s as it came in, %s %s", printable(cmp.Or(x.Name, "a note")), cmp.Or(did, "stored"), printable(at))
		good := slices.DeleteFunc(slices.Clone(x.Sessions), func(y store.AlteredSession) bool {
			return slices.ContainsFunc(h.Altered, func(z store.AlteredSession) bool { return z.ID == y.ID })
		})
		sessions := alteredLines(good)
		if len(good) > 3 {
			sessions = append(sessions[:3], fmt.Sprintf("%d more", len(good)-3))
		}
		switch {
		case x.Trusted:
			s += "; what was stored of it is as it was: "
		case len(good) > 0:
			s += "; of what was stored of it this is as it was, as far as it can be read: "
		case len(x.Sessions) > 0:
			s += "; what was stored of it was altered too"
		}
		out = append(out, s+strings.Join(sessions, ", "))
	}
	return out
}

func newStoreBackupCommand(a *app) *cobra.Command {
	var keep int
	cmd := &cobra.Command{
		Use:   "backup FOLDER|FILE",
		Short: "Write a checked copy of the store",
		Long: `Writes a whole copy while others may log, and checks it. In a folder it is named after
the time, and with --keep only the newest copies of this store stay, the one just
written among them; copies of other stores in the folder are left alone. It prints
the copy's name, and says which older ones were removed.
The check is that of store check. Of a damaged store the copy is kept under a name with
".damaged" in it, no older copy is removed, and the command exits with 1.`,
		Example: `  firstcue store backup friday.db
  firstcue store backup . --keep 14`,
		Args: takes(1, 1, "a folder, or a file that is not there yet"), ValidArgsFunction: completeFiles,
		RunE: func(cmd *cobra.Command, args []string) error {
			if keep < 0 {
				return usagef("--keep is a number of copies, or 0 for all")
			}
			return a.readingFile(cmd.Context(), func(s *store.Store) error {
				made, err := s.Backup(cmd.Context(), args[0], keep)
				if made.Path != "" {
					a.printf("%s\n", made.Path)
				}
				for _, old := range made.Removed {
					a.say("removed: %s", old)
				}
				if errors.Is(err, store.ErrDamaged) {
					e := failedf(err, "%v", err)
					if made.Path != "" {
						e.msg += "; no older copy was removed"
					}
					return e.try("what is damaged: %[1]s store check\nput the last good copy in its place: %[1]s store restore COPY", a.command())
				}
				return err
			})
		},
	}
	cmd.Flags().IntVar(&keep, "keep", 0, "in a folder: keep only the newest `NUMBER` of copies (0 keeps all)")
	return cmd
}

// command is the program's name for a hint, with the store that was named.
func (a *app) command() string {
	if a.store == "" {
		return "firstcue"
	}
	return "firstcue --store " + quote(a.store)
}

func newStoreRestoreCommand(a *app) *cobra.Command {
	var confirm bool
	cmd := &cobra.Command{
		Use:   "restore COPY",
		Short: "Put a copy in the store's place",
		Long: `Puts a backup in the place of the store. The copy must be sound. A store that is sound
too gives way only with --confirm. Whatever was there is kept under another name. Where
the store is a link, the file it leads to is replaced.`,
		Example: "  firstcue store restore kennel-copy.db --confirm",
		Args:    takes(1, 1, "a copy"), ValidArgsFunction: completeFiles,
		RunE: func(cmd *cobra.Command, args []string) error {
			path, err := a.storePath()
			if err != nil {
				return err
			}
			kept, err := store.Restore(cmd.Context(), args[0], path, confirm)
			if err != nil {
				return a.storeError(err)
			}
			a.say("%s is now the store %s", args[0], path)
			if kept == "" {
				return nil
			}
			a.say("what was there is kept: %s", kept)
			was, err := store.Check(cmd.Context(), kept)
			if err != nil || was.Sound {
				return nil // it can't be read, or was given up with open eyes
			}
			is, err := store.Check(cmd.Context(), path)
			if n := was.Lacking(is); err == nil && n > 0 {
				a.say("%s can still be read of it that the copy does not have. To bring them back:\n  firstcue store check %s --salvage NEW.db\n  %s store merge NEW.db", plural(n, "session"), quote(kept), a.command())
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&confirm, "confirm", false, "even over a store that is sound")
	return cmd
}

func newStoreMergeCommand(a *app) *cobra.Command {
	var noCopy bool
	cmd := &cobra.Command{
		Use:   "merge FILE...",
		Short: "Add what another laptop's store holds",
		Long: `Adds what another store, or an exchange file, holds and this one does not. The order
of merges and their repetition make no difference. Where both changed one session both
forms stay in its history.
A file that can't be merged does not stop the others: each is named, and the command
exits with 1, or with the code of the first fault when nothing was merged at all.
Undo does not take a merge back. So a copy of the store is put into the folder backups
beside it first, if the files bring anything new; the newest 3 stay.`,
		Example: "  firstcue store merge other-laptop.db",
		Args:    takes(1, -1, "another store or an exchange file"), ValidArgsFunction: completeFiles,
		RunE: func(cmd *cobra.Command, args []string) error {
			path, err := a.storePath()
			if err != nil {
				return err
			}
			fresh := !storeExists(path)
			if !slices.ContainsFunc(args, exists) {
				if len(args) == 1 {
					return noSuchFile(args[0], "nothing was merged")
				}
				return usagef("none of these files is there: %s; nothing was merged", strings.Join(args, ", "))
			}
			return a.withStore(cmd.Context(), store.Options{Create: true}, func(s *store.Store) error {
				merged, err := a.mergeAll(cmd, s, args, fresh, noCopy)
				if merged == 0 && fresh {
					// An empty store in the usual place would hide that nothing came.
					err = errors.Join(err, s.Discard(context.WithoutCancel(cmd.Context())))
				}
				return err
			})
		},
	}
	cmd.Flags().BoolVar(&noCopy, "no-copy", false, "merge without a copy of the store beforehand")
	return cmd
}

func exists(name string) bool {
	_, err := os.Stat(name)
	return !errors.Is(err, fs.ErrNotExist)
}

// noSuchFile refuses a file that an argument names.
func noSuchFile(name, nothing string) exitError {
	return usagef("%s: there is no such file; %s", name, nothing)
}

// mergeAll merges one file after the other, whatever becomes of each, and says
// how many it merged.
func (a *app) mergeAll(cmd *cobra.Command, s *store.Store, names []string, fresh, noCopy bool) (merged int, err error) {
	ctx := cmd.Context()
	m := s.Merger(!noCopy)
	from := map[string]string{}
	var left []string // not merged
	var first error
	for i, name := range names {
		res, err := mergeOne(cmd, m, name)
		if ctx.Err() != nil {
			if merged > 0 {
				a.warn("not merged: %s", strings.Join(append(left, names[i:]...), ", "))
			}
			return merged, ctx.Err()
		}
		if err != nil {
			if errors.Is(err, store.ErrNoCopy) {
				err = failedf(err, "%v", err).try("free some space, or give yourself the right to write there; or merge without a copy: --no-copy")
			} else if errors.Is(err, store.ErrDamaged) && !errors.Is(err, store.ErrGiven) {
				err = failedf(err, "%v", err).try("what is damaged, and what to do: %s store check", a.command())
			} else if errors.Is(err, store.ErrDamaged) {
				err = failedf(err, "%v", err).try("what is damaged: firstcue store check %[1]s\nsave what is whole: firstcue store check %[1]s --salvage NEW.db, then firstcue store merge NEW.db", quote(name))
			}
			err = a.storeError(err)
			if len(names) == 1 {
				return 0, err
			}
			first = cmp.Or(first, err)
			printError(wrapper{a.env.Stderr, a.env.Width}, err)
			left = append(left, name)
			if errors.Is(err, store.ErrNoCopy) || errors.Is(err, store.ErrLocked) || errors.Is(err, store.ErrDamaged) && !errors.Is(err, store.ErrGiven) {
				left = append(left, names[i+1:]...) // the same would become of them
				break
			}
			continue
		}
		if merged == 0 && fresh {
			path, _ := a.storePath()
			a.say("new store: %s", path)
		}
		merged++
		from[res.Writer] = name
		a.say("%s: %s new, %s, %s of the lists", name, plural(res.Sessions, "session"), plural(res.Revisions, "revision"), plural(res.Changes, "change"))
		for _, d := range res.Differ {
			a.warn("%s", differWords(d))
		}
	}
	if copied, removed := m.Copied(); copied != "" {
		a.say("the store as it was before: %s\n  to go back: %s store restore %s --confirm", copied, a.command(), quote(copied))
		for _, old := range removed {
			a.say("removed: %s", old)
		}
	}
	if merged > 0 {
		conflicts, err := s.Conflicts(ctx)
		if err != nil {
			return merged, err
		}
		for _, l := range conflictLines(conflicts, s.Writer(), from) {
			a.warn("%s", l)
		}
	}
	if len(left) == 0 {
		return merged, nil
	}
	e := failedf(first, "%d of %d files not merged: %s", len(left), len(names), strings.Join(left, ", "))
	if known := new(exitError); merged == 0 && errors.As(first, known) {
		e.code = known.code
	}
	return merged, e
}

// differWords says what two stores said differently of a name, and how to change
// what was kept.
func differWords(d store.Difference) string {
	switch d.List {
	case store.Dogs:
		return dogDiffers(d)
	case store.Bars:
		return barDiffers(d)
	}
	an := func(s string) string {
		switch {
		case d.List == store.Places:
			return s
		case s == string(training.Trainer):
			return "a " + s
		}
		return "an " + s
	}
	flag := "--role " + d.Kept
	switch other := map[bool]string{true: d.There, false: d.Here}[d.Kept == d.Here]; {
	case d.List == store.Handlers:
		flag = "--role " + other
	case other == store.OffProperty:
		flag = "--off-property"
	default:
		flag = "--off-property=false"
	}
	return fmt.Sprintf("%s is %s here and %s there: %s kept\n  change it: firstcue %s set %s %s", d.Name, an(d.Here), an(d.There), d.Kept, d.List, quote(d.Name), flag)
}

// barDiffers is differWords for a bar of the criteria.
func barDiffers(d store.Difference) string {
	unit := ""
	for _, b := range analysis.Bars() {
		if b.Name == d.Name {
			unit = b.Unit
		}
	}
	value := func(s string) string {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return printable(s)
		}
		return barValue(training.Known(v), unit)
	}
	what, scope := printable(d.Name), ""
	if d.Cue != "" {
		what, scope = what+" of "+d.Cue, scope+" --cue "+quote(d.Cue)
	}
	if d.Dog != "" {
		what, scope = what+" for "+d.Dog, scope+" --dog "+quote(d.Dog)
	}
	other := map[bool]string{true: d.There, false: d.Here}[d.Kept == d.Here]
	return fmt.Sprintf("the bar %s: %s here, %s there; %s holds\n  change it: firstcue criteria set %s %s%s", what, value(d.Here), value(d.There), value(d.Kept), printable(d.Name), value(other), scope)
}

// dogDiffers is differWords for what is said of a dog and its stay.
func dogDiffers(d store.Difference) string {
	value := printable
	here, err1 := training.ParseDay(d.Here)
	there, err2 := training.ParseDay(d.There)
	isDay := slices.Contains([]string{"born", "arrival", "due day", "day home"}, d.Field)
	if isDay && err1 == nil && err2 == nil && here.Time(time.UTC).Year() == there.Time(time.UTC).Year() {
		value = func(s string) string {
			day, _ := training.ParseDay(s) // one of the two
			return day.Time(time.UTC).Format("2 Jan")
		}
	}
	s := fmt.Sprintf("%s of %s: %s here, %s there; %s is shown", d.Field, d.Name, value(d.Here), value(d.There), value(d.Kept))
	if d.Field == "goals" { // with commas in them, and each is entered by itself
		return fmt.Sprintf("goals of %s: %q here, %q there; %q holds\n  look: firstcue dog goal %s", d.Name, d.Here, d.There, d.Kept, quote(d.Name))
	}
	other := map[bool]string{true: d.There, false: d.Here}[d.Kept == d.Here]
	change := map[string]string{"name": "dog rename %s %s", "born": "dog set %s --born %s", "consent": "dog set %s --consent %s",
		"arrival": "dog set %s --arrived %s", "due day": "dog set %s --due %s", "day home": "dog home %s --day %s", "wishes": "dog set %s --wishes %s"}[d.Field]
	return s + "\n  change it: firstcue " + fmt.Sprintf(change, quote(d.Name), quote(other))
}

// manyConflicts is how many are named one by one.
const manyConflicts = 5

// conflictLines says which sessions were said differently, what is shown, and how
// to choose. from are the files that were merged, by their stores' ids.
func conflictLines(left []store.Conflict, here string, from map[string]string) []string {
	var out []string
	for _, c := range left {
		if len(out) == manyConflicts {
			break
		}
		if len(c.Twins) > 0 {
			x := c.Twins[0]
			out = append(out, fmt.Sprintf("1 session is stored more than once: %s %s. Look: firstcue store conflicts", x.Dog, x.Start.Format("2006-01-02 15:04")))
			continue
		}
		var shown, other store.Revision
		for _, h := range c.Heads {
			if h.Shown {
				shown = h
			} else {
				other = h
			}
		}
		says := []string{}
		for l := range strings.Lines(sessionDiff(other.Session, shown.Session)) {
			if line, ok := strings.CutPrefix(strings.TrimSpace(l), "+ "); ok {
				says = append(says, printable(line))
			}
		}
		what := "that"
		switch {
		case shown.Voided != "":
			what = "withdrawn (" + printable(shown.Voided) + "),"
		case len(says) > 0:
			what = strings.Join(says, ", ")
		}
		origin := "written here"
		if shown.Writer != here {
			origin = writtenIn(shown.Writer, here, shown.Writer, cmp.Or(from[shown.Writer], "store "+shown.Writer[:min(8, len(shown.Writer))]))
		}
		id := report.ShortID(shown.Session.ID)
		out = append(out, fmt.Sprintf("1 session was said differently here and there: %s %s (session %s).\n  Shown: %s %s. Look: firstcue session history %s",
			shown.Session.Dog, shown.Session.Start.Format("2006-01-02 15:04"), id, what, origin, id))
	}
	if more := len(left) - len(out); more > 0 {
		out = append(out, fmt.Sprintf("and %d more to settle: firstcue store conflicts", more))
	}
	return out
}

// toSettle says what a sound store has left for somebody to choose. One of an
// older version is left as it is, and says nothing.
func (a *app) toSettle(ctx context.Context, path string, h store.Health) ([]string, error) {
	if !h.Sound {
		return nil, nil
	}
	s, err := store.Open(ctx, path, store.Options{ReadOnly: true, Now: a.env.Now})
	if errors.Is(err, store.ErrReadOnly) {
		return nil, nil
	}
	if err != nil {
		return nil, a.storeError(err)
	}
	left, err := s.Conflicts(ctx)
	return conflictLines(left, s.Writer(), nil), a.storeError(errors.Join(err, s.Close()))
}

func newStoreConflictsCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "conflicts",
		Short: "Show sessions that two laptops changed without sight of each other",
		Long: `Shows what merging left for somebody to settle: sessions with two forms, of which one
is in force, and sessions that were logged twice under two ids. Settle the first with
session settle (the form that is right) or session amend, the second with session void.`,
		Example: "  firstcue store conflicts",
		Args:    takes(0, 0, "no argument"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx := cmd.Context()
			return a.reading(ctx, func(s *store.Store) error {
				all, err := s.Conflicts(ctx)
				if err != nil {
					return err
				}
				for i, c := range all {
					if i > 0 {
						a.printf("\n")
					}
					for j, x := range c.Twins {
						if j == 0 {
							a.printf("%s %s is stored more than once\n", x.Dog, x.Start.Format("2006-01-02 15:04"))
						}
						a.printf("  session %s: %s%s, %s\n", report.ShortID(x.ID), x.Handler, at(x.Place), trialCounts(x))
					}
					for j, r := range c.Heads {
						x := r.Session
						if j == 0 {
							a.printf("session %s, %s %s, has %d forms\n", report.ShortID(x.ID), x.Dog, x.Start.Format("2006-01-02 15:04"), len(c.Heads))
						}
						state := ""
						if r.Voided != "" {
							state = ", withdrawn: " + printable(r.Voided)
						}
						if r.Shown {
							state += " (in force)"
						}
						a.printf("  form %s, %s, %s%s\n", report.ShortID(r.ID), writtenIn(r.Writer, s.Writer(), "", ""), r.At.In(a.env.Now().Location()).Format("2006-01-02 15:04"), state)
						a.printf("%s\n", indent(strings.TrimRight(noteOf(x), "\n"), "      "))
						if j == len(c.Heads)-1 {
							a.printf("  choose: firstcue session settle %s FORM\n", report.ShortID(x.ID))
						}
					}
				}
				if len(all) == 0 {
					a.say("nothing to settle")
				}
				return nil
			})
		},
	}
}

// mergeOne merges a store or an exchange file, whichever the file is.
func mergeOne(cmd *cobra.Command, m *store.Merger, name string) (store.MergeResult, error) {
	none := store.MergeResult{}
	info, err := os.Stat(name)
	if errors.Is(err, fs.ErrNotExist) {
		return none, noSuchFile(name, "nothing was merged")
	}
	if err == nil && info.IsDir() {
		return none, usagef("%s: this is a folder; name the files in it", name)
	}
	f, err := os.Open(name)
	if err != nil {
		return none, failedf(err, "%s: %v; nothing of it was merged", name, plainly(err))
	}
	defer f.Close()
	head := make([]byte, 16)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return none, failedf(err, "%s: %v; nothing of it was merged", name, plainly(err))
	}
	if strings.HasPrefix(string(head[:n]), "SQLite format 3") {
		return m.File(cmd.Context(), name)
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return none, failedf(err, "%s: %v; nothing of it was merged", name, plainly(err))
	}
	res, err := m.Bundle(cmd.Context(), f)
	if errors.Is(err, store.ErrInvalid) || errors.Is(err, store.ErrNewer) {
		err = fmt.Errorf("%s: %w; nothing of it was merged", name, err)
	}
	return res, err
}

func newStoreBundleCommand(a *app) *cobra.Command {
	var output string
	cmd := &cobra.Command{
		Use:   "bundle",
		Short: "Write the store as an exchange file",
		Long: `Writes all that the store holds as an exchange file, JSON lines, for store merge on
another machine. Of a damaged store nothing is written, and the command exits with 1.`,
		Example: "  firstcue store bundle -o kennel.jsonl",
		Args:    takes(0, 0, "no argument"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.readingFile(cmd.Context(), func(s *store.Store) error {
				err := a.output(output, func(w io.Writer) error { return s.WriteBundle(cmd.Context(), w) })
				if errors.Is(err, store.ErrDamaged) {
					return failedf(err, "%v", err).
						try("what is damaged: %[1]s store check\nsave what is whole: %[1]s store check --salvage NEW.db, then\nfirstcue --store NEW.db store bundle", a.command())
				}
				return err
			})
		},
	}
	outputVar(cmd, &output)
	return cmd
}

func newStoreJournalCommand(a *app) *cobra.Command {
	var format string
	var all bool
	cmd := &cobra.Command{
		Use:   "journal",
		Short: "Show what was changed and when, newest first",
		Long: `Shows every change of the lists and every log, correction and withdrawal, newest
first: the latest 30, or with --all everything. Nothing is ever taken out of it.`,
		Example: "  firstcue store journal",
		Args:    takes(0, 0, "no argument"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.reading(cmd.Context(), func(s *store.Store) error {
				limit := 30
				if all {
					limit = 0
				}
				events, err := s.Events(cmd.Context(), limit)
				if err != nil {
					return err
				}
				rows, out := [][]string{}, []eventJSON{}
				if none, err := a.noStoreYet(); none || err != nil {
					events = nil // those of the empty one that is shown instead
				}
				for _, e := range events {
					rows = append(rows, []string{e.At.In(a.env.Now().Location()).Format("2006-01-02 15:04"), printable(e.Said)})
					j := eventJSON{At: e.At.Format("2006-01-02T15:04:05Z07:00"), Said: e.Said, Writer: e.Writer}
					if e.Batch != "" {
						j.Batch = &e.Batch
					}
					out = append(out, j)
				}
				if format == "json" {
					return writeFailed(a.json(journalJSON{schema("journal"), out}))
				}
				return a.table("nothing was changed yet", []string{"when", "what"}, rows)
			})
		},
	}
	cmd.Flags().BoolVar(&all, "all", false, "everything")
	formatVar(cmd, &format, "text", "json")
	return cmd
}

func completeFiles(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return nil, cobra.ShellCompDirectiveDefault
}

// outputVar adds --output, the file that an answer goes to.
func outputVar(cmd *cobra.Command, p *string) {
	cmd.Flags().StringVarP(p, "output", "o", "", "write to this `FILE` instead of standard output")
}

// output hands f standard output, or a file that gets its name only when it is
// whole: a failure leaves what was there before.
func (a *app) output(name string, f func(io.Writer) error) error {
	if name == "" || name == "-" {
		to := &target{w: a.env.Stdout}
		if err := f(to); err != nil && to.err == nil {
			return err // not of the output
		} else {
			return writeFailed(err)
		}
	}
	if store.Is(name) {
		return usagef("%s is a firstcue store, and nothing is written over one; name another file", name)
	}
	if info, err := os.Lstat(name); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return writeThrough(name, f) // a device, a pipe or a link stays what it is
	}
	tmp, err := os.CreateTemp(filepath.Dir(name), ".firstcue-*")
	if err != nil {
		e := failedf(err, "write %s: %v", name, plainly(err))
		if errors.Is(err, fs.ErrPermission) {
			e = e.try("name another file, or give yourself the right to write the folder %s", filepath.Dir(name))
		}
		return e
	}
	defer os.Remove(tmp.Name())
	to := &target{w: tmp}
	if err = f(to); err != nil && to.err == nil {
		tmp.Close()
		return err // not of this file
	}
	if err == nil {
		err = tmp.Sync()
	}
	if cerr := tmp.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(tmp.Name(), name)
	}
	if err != nil {
		return failedf(err, "write %s: %v", name, plainly(err))
	}
	return nil
}

func writeThrough(name string, f func(io.Writer) error) error {
	file, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return failedf(err, "write %s: %v", name, plainly(err))
	}
	to := &target{w: file}
	err = f(to)
	cerr := file.Close()
	if err != nil && to.err == nil {
		return err // not of this file
	}
	if err = cmp.Or(err, cerr); err != nil {
		return failedf(err, "write %s: %v", name, plainly(err))
	}
	return nil
}

// target keeps the error of a file that is written apart from those of whoever
// writes it.
type target struct {
	w   io.Writer
	err error
}

func (x *target) Write(p []byte) (int, error) {
	n, err := x.w.Write(p)
	if err != nil {
		x.err = err
	}
	return n, err
}

// plainly is what the system says without the name of a temporary file, which
// says nothing to anybody.
func plainly(err error) error {
	if at := new(fs.PathError); errors.As(err, &at) {
		return at.Err
	}
	if at := new(os.LinkError); errors.As(err, &at) {
		return at.Err
	}
	return err
}
