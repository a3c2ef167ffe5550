package cli

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/note"
	"firstcue/internal/report"
	"firstcue/internal/sheet"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

const importLong = `Stores trials kept in a spreadsheet. Save the sheet as CSV, one trial a row, with a
header line. What the file looks like (separator, encoding, order of day and month,
decimal mark) is found out and shown; where it can't be told, the import stops and
says which flag settles it. A file that firstcue export wrote needs no flag.

Which column holds what is guessed from the header and shown. Say it yourself with
--map, and what the cells mean with --values:

  --map 'cue=Command, response=Result, date=Day'
  --values 'response: Y=+, N=-; leash: long=long line'

A column of marks may hold the notation of a note (- @9 +1.6), or yes and no with
columns for latency, asks, level and so on. firstcue import --fields lists them.

Rows of one dog, start, handler, place, leash and distraction are one session. What
the sheet does not say can come from flags (--dog, --handler, --place, ...). Where it
has days without times, --at gives the time of day.

Before anything is stored the whole file is read. When rows can't be, they are written
with the reasons to a file beside it (trials.rejected.csv for trials.csv), and nothing
is stored unless --skip-bad says to store the rest. On a terminal it asks before it
stores; without one it needs --yes. Importing a file again adds nothing. A session that
is there with other trials is named and left out: --again adds the file's beside it,
--amend puts the file's in its place. firstcue undo takes the whole import back.`

type importOptions struct {
	maps, values                                []string
	using, saveMap                              string
	encoding, delimiter, dates, decimal, at     string
	rejected                                    string
	format                                      string
	dryRun, yes, addNew, skipBad, again, amend  bool
	inHold, fields, listMaps                    bool
	dog, handler, scorer, place, leash          string
	distraction, device, weather, reward, start string
	source                                      string
}

func newImportCommand(a *app) *cobra.Command {
	var o importOptions
	cmd := &cobra.Command{
		Use:   "import FILE.csv",
		Short: "Store trials kept in a spreadsheet",
		Long:  importLong,
		Example: `  firstcue import trials.csv --dry-run
  firstcue import trials.csv --yes
  firstcue import trials.csv --map 'cue=Command, response=Result' --values 'response: Y=+, N=-' --save-map sheet
  firstcue import april.csv --using sheet --dates dmy --at 9:00`,
		Args: func(cmd *cobra.Command, args []string) error {
			if o.fields || o.listMaps {
				return takes(0, 0, "no file with --fields or --maps")(cmd, args)
			}
			return takes(1, 1, "the name of a CSV file, or - for standard input")(cmd, args)
		},
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return []string{"csv", "txt", "tsv"}, cobra.ShellCompDirectiveFilterFileExt
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case o.fields:
				return a.importFields()
			case o.listMaps:
				return a.importMaps(cmd.Context())
			case o.again && o.amend:
				return usagef("--again and --amend do not go together: one adds, the other replaces")
			}
			return a.runImport(cmd.Context(), args[0], o)
		},
	}
	fs := cmd.Flags()
	fs.BoolVarP(&o.dryRun, "dry-run", "n", false, "read the whole file, show what would be stored, and store nothing")
	fs.StringArrayVar(&o.maps, "map", nil, "`FIELD=COLUMN` says which column holds what: 'cue=Command, response=Result'")
	fs.StringArrayVar(&o.values, "values", nil, "`MEANINGS` of cells, field by field: 'response: Y=+, N=-; leash: long=long line'")
	fs.StringVar(&o.using, "using", "", "read as remembered under `NAME`")
	fs.StringVar(&o.saveMap, "save-map", "", "remember map, values and layout flags under `NAME`")
	fs.BoolVar(&o.listMaps, "maps", false, "list the remembered maps, as flags to type")
	fs.BoolVar(&o.fields, "fields", false, "list what a column may hold")
	fs.StringVar(&o.dates, "dates", "", "`ORDER` of the dates: dmy, mdy or ymd")
	fs.StringVar(&o.decimal, "decimal", "", "decimal `MARK`: dot or comma")
	fs.StringVar(&o.delimiter, "delimiter", "", "`SIGN` between cells: comma, semicolon or tab")
	fs.StringVar(&o.encoding, "encoding", "", "`ENCODING`: utf-8, utf-16le, utf-16be or windows-1252")
	fs.StringVar(&o.at, "at", "", "`TIME` of day, such as 9:00, of sessions whose time is not in the file")
	fs.BoolVar(&o.addNew, "new", false, "names not yet known become entries of the lists; a slip of a known name does not")
	fs.BoolVar(&o.skipBad, "skip-bad", false, "store the rows that can be read, although others can't")
	fs.StringVar(&o.rejected, "rejected", "", "write the rows that can't be read to `FILE` (default: trials.rejected.csv for trials.csv)")
	fs.BoolVar(&o.again, "again", false, "add a session although one of the same dog and start is there with other trials")
	fs.BoolVar(&o.amend, "amend", false, "put the file's session in the place of the one that is there")
	fs.BoolVar(&o.inHold, "in-hold", false, "the trials in a vet hold are meant; they are left out of every figure")
	fs.BoolVarP(&o.yes, "yes", "y", false, "store without a question")
	fs.StringVar(&o.dog, "dog", "", "`DOG`, where the file names none")
	fs.StringVar(&o.handler, "handler", "", "who gave the cues, a `NAME`")
	fs.StringVar(&o.scorer, "scorer", "", "who wrote it down, a `NAME`, if not the handler")
	fs.StringVar(&o.start, "start", "", "`TIME` the session began, for a file that is one session")
	fs.StringVar(&o.place, "place", "", "`PLACE`")
	fs.StringVar(&o.leash, "leash", "", "`STATE`: leash, long line, drag line, off")
	fs.StringVar(&o.distraction, "distraction", "", "`CODE` 0 (familiar, quiet) to 4 (this dog's hardest thing)")
	fs.StringVar(&o.device, "device", "", "`DEVICE` the levels belong to")
	fs.StringVar(&o.weather, "weather", "", "weather, in `WORDS`")
	fs.StringVar(&o.reward, "reward", "", "reward, in `WORDS`")
	fs.StringVar(&o.source, "source", "", "how it was recorded: live, video or memory")
	formatVar(cmd, &o.format, "text", "json")
	complete(cmd, "dog", a.completeDogs)
	complete(cmd, "handler", a.completeHandlers)
	complete(cmd, "scorer", a.completeHandlers)
	complete(cmd, "place", a.completePlaces)
	complete(cmd, "device", a.completeDevices)
	complete(cmd, "using", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		var out []string
		for _, m := range forCompletion(a, func(ctx context.Context, s *store.Store) ([]store.Mapping, error) { return s.Mappings(ctx) }) {
			out = append(out, m.Name)
		}
		return out, cobra.ShellCompDirectiveNoFileComp
	})
	return cmd
}

func (a *app) importFields() error {
	var rows [][]string
	for _, f := range sheet.Fields {
		rows = append(rows, []string{string(f.Field), f.Holds})
	}
	return a.table("", []string{"field", "holds"}, rows)
}

func (a *app) importMaps(ctx context.Context) error {
	var rows [][]string
	none, err := a.noStoreYet()
	if err != nil {
		return err
	}
	if !none {
		err = a.reading(ctx, func(s *store.Store) error {
			list, err := s.Mappings(ctx)
			for _, m := range list {
				text := m.Text
				if x, err := sheet.ParseMapping([]byte(m.Text)); err == nil {
					text = mapFlags(x)
				}
				rows = append(rows, []string{m.Name, text})
			}
			return err
		})
	}
	if err != nil {
		return err
	}
	return a.table("no map is remembered; --save-map NAME keeps one", []string{"name", "map"}, rows)
}

// mapFlags writes a remembered map as the flags that say the same.
func mapFlags(m sheet.Mapping) string {
	var flags []string
	if s := m.ColumnsText(); s != "" {
		flags = append(flags, "--map "+quote(s))
	}
	if s := m.ValuesText(); s != "" {
		flags = append(flags, "--values "+quote(s))
	}
	for _, x := range []struct{ flag, value string }{
		{"--dates", string(m.Dates)}, {"--decimal", map[string]string{".": "dot", ",": "comma"}[m.Decimal]},
		{"--delimiter", m.Delimiter}, {"--encoding", string(m.Encoding)},
	} {
		if x.value != "" {
			flags = append(flags, x.flag+" "+quote(x.value))
		}
	}
	return strings.Join(flags, " ")
}

// importing is one file on its way into the store.
type importing struct {
	a      *app
	o      importOptions
	name   string // as the user called it
	path   string // where its bytes are
	size   int64
	hash   string
	m      sheet.Mapping
	wishes sheet.Wishes
	opts   sheet.Options
	res    sheet.Result

	rejects  *rejects
	first    []training.Session // for the preview
	dogs     []string           // of the sessions to be stored, at most one more than manyDogs
	cues     map[string][]string
	there    int // sessions that are stored already, with the same trials
	suspects []string
	skip     map[int]bool // sessions left out, by their place in the file
	parts    map[int]int  // sessions that become a further part
}

func (a *app) runImport(ctx context.Context, name string, o importOptions) (err error) {
	if err := a.mayBegin(o.addNew); err != nil {
		return err
	}
	im := &importing{a: a, o: o, name: name, path: name, skip: map[int]bool{}, parts: map[int]int{}}
	k, set, err := a.kennel(ctx)
	if err != nil {
		return err
	}
	a.rules = rulesOf(k, set)
	if err := im.mapping(ctx); err != nil {
		return err
	}
	drop, err := im.fetch(ctx)
	if err != nil {
		return err
	}
	defer drop()
	if err := im.layout(k); err != nil {
		return err
	}
	im.rejects = &rejects{im: im}
	defer im.rejects.discard()
	if err := im.check(ctx); err != nil {
		return err
	}
	if err := im.show(); err != nil {
		return err
	}
	if o.saveMap != "" && !o.dryRun {
		// Also when rows are refused: the next try is to be shorter.
		if err := a.changing(ctx, func(s *store.Store) error { return im.remember(ctx, s) }); err != nil {
			return err
		}
		a.say("map remembered: --using %s", quote(o.saveMap))
	}
	bad := im.res.Rejected > 0 && !o.skipBad
	if o.dryRun || bad {
		kept := ""
		if !o.dryRun || o.rejected != "" {
			if kept, err = im.rejects.keep(); err != nil {
				return err
			}
		}
		return im.stop(bad, kept)
	}
	todo := im.res.Sessions - len(im.skip)
	if todo == 0 {
		a.say("nothing new in %s: nothing was stored", name)
		return im.json(store.BulkResult{})
	}
	if question := fmt.Sprintf("Store %s?", plural(todo, "session")); name == "-" && !o.yes {
		return usagef("nothing was stored: standard input is the file, so there is nobody to ask (%s)", question).
			try("add --yes to go ahead without a question")
	} else if err := a.confirm(ctx, o.yes, question); err != nil {
		return err
	}
	kept, err := im.rejects.keep()
	if err != nil {
		return err
	}
	return im.store(ctx, kept)
}

// mapping puts the remembered map and the flags together, and remembers them.
func (im *importing) mapping(ctx context.Context) error {
	o := im.o
	if o.using != "" {
		var names []string
		found := false
		if path, err := im.a.storePath(); err != nil {
			return err
		} else if storeExists(path) {
			err := im.a.reading(ctx, func(s *store.Store) error {
				list, err := s.Mappings(ctx)
				for _, m := range list {
					names = append(names, m.Name)
					if training.Key(m.Name) == training.Key(o.using) {
						found = true
						if im.m, err = sheet.ParseMapping([]byte(m.Text)); err != nil {
							return err
						}
					}
				}
				return err
			})
			if err != nil {
				return err
			}
		}
		if !found {
			e := usagef("no map is remembered as %q", o.using)
			if near := nearest(o.using, names); near != "" {
				return e.try("did you mean %s?", near)
			}
			return e.try("firstcue import --maps lists them; --save-map %s keeps one", quote(o.using))
		}
	}
	flags := sheet.Mapping{}
	for _, s := range o.maps {
		if err := flags.AddColumns(s); err != nil {
			return mapError("--map", err)
		}
	}
	for _, s := range o.values {
		if err := flags.AddValues(s); err != nil {
			return mapError("--values", err)
		}
	}
	im.m = im.m.With(flags)
	for _, x := range []struct {
		flag, value string
		set         func(string) error
	}{
		{"--dates", o.dates, func(s string) (err error) { im.m.Dates, err = sheet.ParseDateOrder(s); return }},
		{"--delimiter", o.delimiter, func(s string) error {
			d, err := sheet.ParseDelimiter(s)
			im.m.Delimiter = sheet.DelimiterName(d)
			return err
		}},
		{"--decimal", o.decimal, func(s string) error {
			switch strings.ToLower(s) {
			case "dot", "point", ".":
				im.m.Decimal = "."
			case "comma", ",":
				im.m.Decimal = ","
			default:
				return fmt.Errorf("%q is neither dot nor comma", s)
			}
			return nil
		}},
	} {
		if x.value != "" {
			if err := x.set(x.value); err != nil {
				return usagef("%s: %v", x.flag, err)
			}
		}
	}
	if o.encoding != "" {
		im.m.Encoding = sheet.Encoding(strings.ToLower(o.encoding))
	}
	im.wishes = sheet.Wishes{Encoding: im.m.Encoding, Dates: im.m.Dates}
	if im.m.Delimiter != "" {
		im.wishes.Delimiter, _ = sheet.ParseDelimiter(im.m.Delimiter)
	}
	if im.m.Decimal != "" {
		im.wishes.Decimal = im.m.Decimal[0]
	}
	if o.at != "" {
		if _, err := note.ReadTime("2026-01-01 "+o.at, im.a.env.Now()); err != nil {
			return usagef("--at: %q is not a time of day: write 9:00", o.at)
		}
	}
	return nil
}

func mapError(flag string, err error) error {
	e := usagef("%s: %v", flag, err)
	var u *sheet.UnknownError
	if errors.As(err, &u) {
		e = usagef("%s: there is no %s %q", flag, u.What, u.Name)
		if near := nearest(u.Name, u.Known); near != "" {
			return e.try("did you mean %s?", near)
		}
		if u.What == "field" {
			return e.try("firstcue import --fields lists the fields; write --map 'FIELD=COLUMN'")
		}
		return e.try("the columns are: %s", strings.Join(u.Known, ", "))
	}
	return e
}

// fetch makes sure that the file can be read more than once, and takes its
// hash. drop must be called in the end.
func (im *importing) fetch(ctx context.Context) (drop func(), err error) {
	drop = func() {}
	var f *os.File
	if im.name == "-" {
		if f, err = os.CreateTemp("", "firstcue-import-*.csv"); err != nil {
			return drop, failedf(err, "keep standard input: %v", err)
		}
		im.path = f.Name()
		drop = func() { os.Remove(im.path) }
		if _, err := io.Copy(f, im.a.input(ctx)); err != nil {
			f.Close()
			drop()
			if ctx.Err() != nil {
				return func() {}, ctx.Err()
			}
			return func() {}, failedf(err, "read standard input: %v", err)
		}
		if _, err := f.Seek(0, io.SeekStart); err != nil {
			return drop, err
		}
	} else if f, err = os.Open(im.name); err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return drop, usagef("there is no file %s", im.name)
		}
		e := failedf(err, "%v; nothing was stored", err)
		if errors.Is(err, fs.ErrPermission) {
			e = e.try("give yourself the right to read it")
		}
		return drop, e
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return drop, failedf(err, "%v", err)
	}
	if info.IsDir() {
		return drop, usagef("%s is a folder, not a file", im.name)
	}
	if !info.Mode().IsRegular() && im.name != "-" {
		return drop, usagef("%s is no plain file", im.name).try("firstcue import - reads standard input")
	}
	im.size = info.Size()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return drop, failedf(err, "read %s: %v", im.name, err)
	}
	im.hash = hex.EncodeToString(h.Sum(nil))
	return drop, nil
}

// open opens the file at its first row.
func (im *importing) open() (*sheet.Reader, sheet.Layout, func(), error) {
	f, err := os.Open(im.path)
	if err != nil {
		return nil, sheet.Layout{}, nil, failedf(err, "%v", err)
	}
	r, l, err := sheet.Open(f, im.wishes)
	if err != nil {
		f.Close()
		return nil, l, nil, usagef("%s: %v", im.name, err)
	}
	return r, l, func() { f.Close() }, nil
}

// layout finds out how the file is written and which column holds what, and
// says so.
func (im *importing) layout(k training.Kennel) error {
	r, l, done, err := im.open()
	if err != nil {
		return err
	}
	defer done()
	cols, err := im.m.Find(l.Header, true)
	if err != nil {
		return mapError("--map", err)
	}
	if l, err = sheet.Detect(r, l, cols, im.wishes); err != nil {
		return usagef("%s: %v", im.name, err)
	}
	im.opts = sheet.Options{Layout: l, Columns: cols, Values: im.m.Values, At: im.o.at, Kennel: k, Now: im.a.env.Now(),
		AllowNew: im.o.addNew, DespiteHold: im.o.inHold, Defaults: map[sheet.Field]string{}}
	for f, v := range map[sheet.Field]string{sheet.Dog: im.o.dog, sheet.Handler: im.o.handler, sheet.Scorer: im.o.scorer, sheet.Place: im.o.place,
		sheet.Leash: im.o.leash, sheet.Distraction: im.o.distraction, sheet.Device: im.o.device, sheet.Weather: im.o.weather, sheet.Reward: im.o.reward, sheet.Source: im.o.source} {
		if v != "" {
			im.opts.Defaults[f] = v
		}
	}
	if im.o.start != "" {
		m, err := note.ReadTime(im.o.start, im.a.env.Now())
		if err != nil {
			return usagef("--start: %v", err)
		}
		im.opts.Defaults[sheet.Start] = m.Time.Format(time.RFC3339Nano)
	}
	im.say(l, cols)
	// What no row can do without.
	has := func(fields ...sheet.Field) bool {
		return slices.ContainsFunc(fields, func(f sheet.Field) bool { return cols.At(f) >= 0 || im.opts.Defaults[f] != "" })
	}
	var lacks, hints []string
	for _, need := range []struct {
		ok   bool
		what string
		hint string
	}{
		{has(sheet.Dog), "the dog", "--map 'dog=COLUMN', or --dog NAME if all rows are one dog's"},
		{has(sheet.Start, sheet.Date), "the day", "--map 'date=COLUMN' or 'start=COLUMN'"},
		{has(sheet.Cue, sheet.Marks), "the cue", "--map 'cue=COLUMN'"},
		{has(sheet.Response, sheet.Marks, sheet.Yes, sheet.Walked), "the answer", "--map 'response=COLUMN'"},
	} {
		if !need.ok {
			lacks, hints = append(lacks, need.what), append(hints, need.hint)
		}
	}
	if len(lacks) > 0 {
		what := lacks[len(lacks)-1]
		if n := len(lacks) - 1; n > 0 {
			what = strings.Join(lacks[:n], ", ") + " or " + what
		}
		return usagef("%s: no column is known to hold %s; nothing was stored", im.name, what).
			try("the columns are: %s\nsay it with %s", strings.Join(l.Header, ", "), strings.Join(hints, "\n         and "))
	}
	return nil
}

// say shows what was found out about the file.
func (im *importing) say(l sheet.Layout, cols sheet.Columns) {
	enc := strings.ToUpper(string(l.Encoding))
	if l.Mark {
		enc += " (by its byte order mark)"
	}
	im.a.say("%s: %s between cells, %s", im.name, sheet.DelimiterName(l.Delimiter), enc)
	if cols.At(sheet.Start) >= 0 || cols.At(sheet.Date) >= 0 {
		im.a.say("  dates: %s (%s)", map[sheet.DateOrder]string{sheet.YMD: "year first", sheet.DMY: "day first", sheet.MDY: "month first"}[l.Dates], l.DatesBy)
	}
	im.a.say("  decimal mark: %s (%s)", map[byte]string{'.': "dot", ',': "comma"}[l.Decimal], l.DecimalBy)
	how := "columns"
	if len(cols.Guessed) > 0 {
		how = "columns, guessed from the header where --map does not say"
	}
	if len(cols.Unused) < len(l.Header) {
		im.a.say("  %s:", how)
	}
	for _, f := range sheet.Fields {
		if h := cols.Heading(f.Field, l.Header); h != "" {
			im.a.say("    %s=%s", f.Field, h)
		}
	}
	if len(cols.Unused) > 0 {
		im.a.say("  not used:")
		for _, h := range cols.Unused {
			im.a.say("    %s", h)
		}
	}
}

// check reads the whole file without storing anything.
func (im *importing) check(ctx context.Context) error {
	path, err := im.a.storePath()
	if err != nil {
		return err
	}
	run := func(s *store.Store) error {
		known := newKnownSessions(ctx, s, im.opts.Kennel)
		im.first, im.there, im.suspects = nil, 0, nil
		im.dogs, im.cues = nil, map[string][]string{}
		clear(im.skip)
		clear(im.parts)
		im.rejects.reset()
		r, _, done, err := im.open()
		if err != nil {
			return err
		}
		defer done()
		n, trials := 0, 0
		tick := im.ticker("read")
		im.res, err = sheet.Read(r, im.opts, func(x training.Session) error {
			if n&255 == 0 && ctx.Err() != nil {
				return ctx.Err()
			}
			i := n
			n++
			trials += len(x.Trials)
			tick.at(trials)
			if s != nil {
				if err := im.compare(known, i, &x); err != nil {
					return err
				}
			}
			if !im.skip[i] {
				im.touch(&x)
			}
			if len(im.first) < 4 && !im.skip[i] {
				im.first = append(im.first, x)
			}
			return nil
		}, im.rejects.add)
		tick.end()
		return err
	}
	for {
		if storeExists(path) {
			err = im.a.reading(ctx, run)
		} else {
			err = run(nil)
		}
		if !errors.Is(err, sheet.ErrScattered) || im.opts.Gather {
			break
		}
		im.opts.Gather = true
		im.a.say("  rows of one session do not stand together: the whole file is put in order first")
	}
	if err == nil || errors.Is(err, context.Canceled) {
		return err
	}
	var e exitError
	if errors.As(err, &e) {
		return err
	}
	return usagef("%s: %v; nothing was stored", im.name, err)
}

// manyDogs is for how many dogs an import shows what it changed.
const manyDogs = 12

// touch notes the dog and the cues of a session that is to be stored.
func (im *importing) touch(s *training.Session) {
	cues, seen := im.cues[s.Dog]
	if !seen {
		if len(im.dogs) > manyDogs {
			return
		}
		im.dogs = append(im.dogs, s.Dog)
	}
	for i := range s.Trials {
		if !slices.Contains(cues, s.Trials[i].Cue) {
			cues = append(cues, s.Trials[i].Cue)
		}
	}
	im.cues[s.Dog] = cues
}

// compare finds out whether a session is stored already.
func (im *importing) compare(known *knownSessions, i int, s *training.Session) error {
	list, err := known.at(s)
	if err != nil || len(list) == 0 {
		return err
	}
	mark := fingerprint(s)
	part, clash := 0, (*knownSession)(nil)
	for j, k := range list {
		if k.mark == mark && k.tells(s.Remarks) {
			if k.undone {
				return nil // stored again by the store itself
			}
			im.there++
			im.skip[i] = true
			return nil
		}
		part = max(part, k.part+1)
		if k.part == s.Part && !k.undone {
			clash = &list[j]
		}
	}
	if clash == nil || im.o.amend {
		return nil
	}
	if im.o.again {
		im.parts[i] = part
		known.add(s, part)
		return nil
	}
	im.skip[i] = true
	im.suspects = append(im.suspects, fmt.Sprintf("%s %s, %s at %s: stored with other trials or remarks (session %s)",
		s.Dog, s.Start.Format("2006-01-02 15:04"), s.Handler, s.Place, report.ShortID(clash.id)))
	return nil
}

// show prints what would be stored of the first rows, and what to look at.
func (im *importing) show() error {
	a, res := im.a, im.res
	if im.o.format == "text" && !a.quiet && len(im.first) > 0 {
		first, more := firstTrials(im.first, 12)
		if err := report.DryRunText(a.env.Stdout, first, a.options()); err != nil {
			return writeFailed(err)
		}
		if more || res.Sessions-len(im.skip) > len(first) {
			a.printf("  ... these are the first of %s\n", plural(res.Sessions-len(im.skip), "session"))
		}
		a.printf("\n")
	}
	a.say("%s, %s read from %s", plural(res.Sessions, "session"), plural(res.Trials, "trial"), plural(res.Rows, "row"))
	if res.LeftOut > 0 {
		a.say("left out: %s of withdrawn sessions", plural(res.LeftOut, "row"))
	}
	if im.there > 0 {
		a.say("stored already: %s", plural(im.there, "session"))
	}
	for i, s := range im.suspects {
		if i == 10 {
			a.warn("and %d more", len(im.suspects)-i)
			break
		}
		a.warn("%s", s)
	}
	if len(im.suspects) > 0 {
		a.warn("%s left out: --again adds them beside those stored, --amend puts them in their place", plural(len(im.suspects), "session"))
	}
	for _, w := range res.Warnings {
		a.warn("%s", w)
	}
	for i, n := range res.New {
		if i == 20 {
			a.say("and %d names more", len(res.New)-i)
			break
		}
		a.say("new: %s", nameWords(n))
	}
	im.rejects.say()
	return nil
}

// firstTrials cuts sessions to a number of trials in all.
func firstTrials(list []training.Session, n int) (out []training.Session, more bool) {
	for _, s := range list {
		if n <= 0 {
			return out, true
		}
		if len(s.Trials) > n {
			s.Trials, more = s.Trials[:n], true
		}
		n -= len(s.Trials)
		out = append(out, s)
	}
	return out, more
}

// stop ends an import that stores nothing.
func (im *importing) stop(bad bool, kept string) error {
	if err := im.json(store.BulkResult{}); err != nil {
		return err
	}
	if !bad {
		im.a.say("dry run: nothing was stored")
		if im.res.Rejected == 0 {
			return nil
		}
	}
	hint := "put them right, or --skip-bad stores the others"
	if kept != "" {
		hint = "they are in " + kept + " with the reasons; put them right, or --skip-bad stores the others"
	}
	return usagef("%s of %d can't be read, nothing was stored", plural(im.res.Rejected, "row"), im.res.Rows).try("%s", hint)
}

type importJSON struct {
	Schema        string         `json:"schema"`
	DryRun        bool           `json:"dryRun"`
	File          string         `json:"file"`
	Rows          int            `json:"rows"`
	Sessions      int            `json:"sessions"`
	Trials        int            `json:"trials"`
	Stored        int            `json:"stored"`
	Amended       int            `json:"amended"`
	SecondScoring int            `json:"secondScoring"`
	AlreadyStored int            `json:"alreadyStored"`
	LeftOut       []string       `json:"leftOut"`
	Rejected      int            `json:"rejected"`
	Reasons       []rejectedJSON `json:"reasons"`
	New           []nameJSON     `json:"new"`
}

type rejectedJSON struct {
	Line   int    `json:"line"`
	Reason string `json:"reason"`
}

func (im *importing) json(b store.BulkResult) error {
	if im.o.format != "json" {
		return nil
	}
	return writeFailed(im.a.json(importJSON{schema("import"), im.o.dryRun, im.name, im.res.Rows, im.res.Sessions, im.res.Trials, b.Stored, b.Amended, b.SecondScore,
		im.there + b.AlreadyStored, list(im.suspects), im.res.Rejected, list(im.rejects.first), namesJSON(im.res.New)}))
}

// keepFile is how large a file may be to be kept whole in the store, as a note
// is; of a larger one the name and the hash are kept.
const keepFile = 4 << 20

func (im *importing) store(ctx context.Context, kept string) error {
	var text []byte
	if im.size <= keepFile {
		b, err := os.ReadFile(im.path)
		if err != nil {
			return failedf(err, "%v", err)
		}
		text = b
	}
	var names training.Kennel
	addNames(&names, im.res.New)
	addNames(&im.opts.Kennel, im.res.New)
	name := filepath.Base(im.name)
	if im.name == "-" {
		name = "standard input"
	}
	about, err := json.Marshal(struct {
		File string `json:"sha256"`
		sheet.Mapping
	}{im.hash, im.m})
	if err != nil {
		return err
	}
	tick := im.ticker("stored")
	var done store.BulkResult
	before, after := map[string]analysis.Assessment{}, map[string]analysis.Assessment{}
	few := len(im.dogs) <= manyDogs && im.o.format != "json" && !im.a.quiet
	err = im.a.changing(ctx, func(s *store.Store) error {
		var err error
		if few {
			if before, err = im.a.standings(ctx, s, im.dogs); err != nil {
				return err
			}
		}
		done, err = s.BulkAdd(ctx, im.sessions(ctx), store.BulkOptions{Name: name, Text: text, Mapping: string(about),
			New:      store.LogRequest{Dogs: names.Dogs, Handlers: names.Handlers, Places: names.Places, Devices: names.Devices, Cues: names.Cues},
			Progress: func(_, trials int) { tick.at(trials) }})
		if err == nil && few {
			after, err = im.a.standings(ctx, s, im.dogs)
		}
		return err
	})
	tick.end()
	if err != nil {
		if done.Stored+done.Amended > 0 {
			im.a.warn("stored before it stopped: %s. Import the file again to add the rest, or firstcue undo to take them back", plural(done.Stored+done.Amended, "session"))
		}
		return err
	}
	if err := im.json(done); err != nil || im.o.format == "json" {
		return err
	}
	im.a.printf("stored: %s, %s\n", plural(done.Stored, "session"), plural(done.Trials, "trial"))
	if done.Amended > 0 {
		im.a.printf("amended (the earlier form stays in its history): %s\n", plural(done.Amended, "session"))
	}
	if done.SecondScore > 0 {
		im.a.printf("second scorings, adding no trials: %s\n", plural(done.SecondScore, "session"))
	}
	if kept != "" {
		im.a.printf("not stored: %s, in %s with the reasons\n", plural(im.res.Rejected, "row"), kept)
	}
	var rows [][]string
	for _, d := range im.dogs {
		for _, cue := range im.cues[d] {
			rows = append(rows, changeRow(d, cue, before[d], after[d]))
		}
	}
	if few && len(rows) > 0 {
		im.a.printf("\n")
		if err := im.a.grid(changeHeaders, rows, nil); err != nil {
			return writeFailed(err)
		}
	}
	im.a.say("take it back: firstcue undo")
	return nil
}

func (im *importing) remember(ctx context.Context, s *store.Store) error {
	text, err := json.Marshal(im.m)
	if err != nil {
		return err
	}
	return s.SetMapping(ctx, im.o.saveMap, string(text))
}

// sessions reads the file again, ahead of the store that takes the sessions: so
// two processors are busy.
func (im *importing) sessions(ctx context.Context) iter.Seq2[training.Session, error] {
	return func(yield func(training.Session, error) bool) {
		type piece struct {
			list []training.Session
			err  error
		}
		ctx, cancel := context.WithCancel(ctx)
		defer cancel()
		pieces := make(chan piece, 4)
		go func() {
			defer close(pieces)
			const each = 64
			batch := make([]training.Session, 0, each)
			send := func(p piece) error {
				select {
				case pieces <- p:
					return nil
				case <-ctx.Done():
					return ctx.Err()
				}
			}
			n := 0
			r, _, done, err := im.open()
			if err == nil {
				defer done()
				_, err = sheet.Read(r, im.opts, func(s training.Session) error {
					i := n
					n++
					if im.skip[i] {
						return nil
					}
					if part, ok := im.parts[i]; ok {
						s.Part = part
						s.Carried = "part: " + strconv.Itoa(part+1)
					}
					if batch = append(batch, s); len(batch) < each {
						return nil
					}
					p := piece{list: batch}
					batch = make([]training.Session, 0, each)
					return send(p)
				}, func(sheet.Rejected) error { return nil })
			}
			if ctx.Err() == nil {
				send(piece{batch, err})
			}
		}()
		for p := range pieces {
			for i := range p.list {
				if !yield(p.list[i], nil) {
					return
				}
			}
			if p.err != nil {
				yield(training.Session{}, p.err)
				return
			}
		}
		if err := ctx.Err(); err != nil {
			yield(training.Session{}, err)
		}
	}
}

// knownSession is what must be known of a stored session to recognise it.
type knownSession struct {
	id      string
	part    int
	mark    uint64
	remarks []training.Remark
	undone  bool
}

// tells reports whether the stored session has all the remarks; it may have
// more, as a sheet has often none.
func (k *knownSession) tells(remarks []training.Remark) bool {
	for _, r := range remarks {
		if !slices.ContainsFunc(k.remarks, func(x training.Remark) bool { return x.Text == r.Text }) {
			return false
		}
	}
	return true
}

// knownSessions reads the stored sessions of a dog when it is first met.
type knownSessions struct {
	ctx  context.Context
	s    *store.Store
	k    map[string]bool // keys of the kennel's dogs: its list, looked through for each, took longer than the file
	dogs map[string]map[int64][]knownSession
}

func newKnownSessions(ctx context.Context, s *store.Store, k training.Kennel) *knownSessions {
	x := &knownSessions{ctx: ctx, s: s, k: map[string]bool{}, dogs: map[string]map[int64][]knownSession{}}
	for _, d := range k.Dogs {
		for _, name := range append([]string{d.Name}, d.Aliases...) {
			x.k[training.Key(name)] = true
		}
	}
	return x
}

func (x *knownSessions) at(s *training.Session) ([]knownSession, error) {
	byStart, ok := x.dogs[s.Dog]
	if !ok {
		byStart = map[int64][]knownSession{}
		x.dogs[s.Dog] = byStart
		if x.k[training.Key(s.Dog)] {
			list, err := x.s.Sessions(x.ctx, store.Filter{Dog: s.Dog, IncludeVoided: true})
			if err != nil {
				return nil, err
			}
			for i := range list {
				ms := list[i].Start.UnixMilli()
				byStart[ms] = append(byStart[ms], knownSession{list[i].ID, list[i].Part, fingerprint(&list[i]), list[i].Remarks,
					list[i].Voided == store.ReasonUndone || list[i].Voided == store.ReasonGone})
			}
		}
	}
	return byStart[s.Start.UnixMilli()], nil
}

// add notes a session that this import adds as a further part.
func (x *knownSessions) add(s *training.Session, part int) {
	ms := s.Start.UnixMilli()
	x.dogs[s.Dog][ms] = append(x.dogs[s.Dog][ms], knownSession{part: part, mark: fingerprint(s), remarks: s.Remarks})
}

// fingerprint is the same for two sessions that tell the same, however they came
// in: the words of the note, its remarks and the order of the parts do not count.
func fingerprint(s *training.Session) uint64 {
	h := fnv.New64a()
	scorer := s.Scorer
	if scorer == "" {
		scorer = s.Handler
	}
	fmt.Fprintf(h, "%s\x00%s\x00%s\x00%s\x00%v", s.Handler, scorer, s.Place, s.Leash, s.Distraction)
	for i := range s.Trials {
		io.WriteString(h, "\x00"+s.Trials[i].Marks)
		for _, c := range s.Trials[i].Corrections {
			io.WriteString(h, "\x01"+c.Device)
		}
	}
	return h.Sum64()
}

// rejects writes the rows that can't be read to a file beside the one they come
// from. Nothing has its name before it is complete.
type rejects struct {
	im      *importing
	first   []rejectedJSON
	reasons []rejectReason
	others  int // rows with none of the reasons
	f       *os.File
	buf     *bufio.Writer
	w       *csv.Writer
}

// rejectReason is a reason with the first line and the number of its rows.
type rejectReason struct {
	text  string
	first int
	n     int
}

func (x *rejects) reset() {
	x.discard()
	*x = rejects{im: x.im}
}

func (x *rejects) add(r sheet.Rejected) error {
	if len(x.first) < 10 {
		x.first = append(x.first, rejectedJSON{r.Line, r.Reason})
	}
	if i := slices.IndexFunc(x.reasons, func(y rejectReason) bool { return y.text == r.Reason }); i >= 0 {
		x.reasons[i].n++
	} else if len(x.reasons) < 10 {
		x.reasons = append(x.reasons, rejectReason{r.Reason, r.Line, 1})
	} else {
		x.others++
	}
	if x.f == nil {
		f, err := os.CreateTemp(filepath.Dir(x.target()), ".firstcue-rejected-*")
		if err != nil {
			if f, err = os.CreateTemp("", "firstcue-rejected-*"); err != nil {
				return failedf(err, "keep the rejected rows: %v", err)
			}
		}
		x.f, x.buf = f, bufio.NewWriterSize(f, 64<<10)
		if x.im.opts.Layout.Mark {
			x.buf.WriteString("\ufeff")
		}
		x.w = csv.NewWriter(x.buf)
		x.w.Comma = rune(x.im.opts.Layout.Delimiter)
		x.w.UseCRLF = true
		if err := x.w.Write(append(slices.Clone(x.im.opts.Layout.Header), "line in file", "reason")); err != nil {
			return err
		}
	}
	row := make([]string, len(x.im.opts.Layout.Header), len(x.im.opts.Layout.Header)+2)
	copy(row, r.Cells)
	return x.w.Write(append(row, strconv.Itoa(r.Line), r.Reason))
}

func (x *rejects) target() string {
	switch {
	case x.im.o.rejected != "":
		return x.im.o.rejected
	case x.im.name == "-":
		return "import.rejected.csv"
	}
	return strings.TrimSuffix(x.im.name, filepath.Ext(x.im.name)) + ".rejected.csv"
}

// keep gives the file its name and returns it; "" when no row was rejected.
func (x *rejects) keep() (string, error) {
	if x.f == nil {
		return "", nil
	}
	x.w.Flush()
	err := errors.Join(x.w.Error(), x.buf.Flush(), x.f.Close())
	from, to := x.f.Name(), x.target()
	x.f = nil
	if err == nil {
		taken := to
		if to, err = x.free(from, to); err == nil && to != taken {
			x.im.a.say("%s is kept as it is: it differs from what would be written now", taken)
		}
	}
	if err == nil {
		if err = os.Rename(from, to); err != nil {
			// The folder can't be written: leave it where it is, and say where.
			return from, nil
		}
		return to, nil
	}
	os.Remove(from)
	return "", failedf(err, "write %s: %v", to, err)
}

// free is the name under which the rows at from may be kept: to, or with -2, -3
// and so on behind it where a file of that name says something else. Somebody
// may have put the rows right there.
func (x *rejects) free(from, to string) (string, error) {
	rows, err := os.ReadFile(from)
	if err != nil {
		return to, err
	}
	ext := filepath.Ext(to)
	name := to
	for n := 2; ; n++ {
		there, err := os.ReadFile(name)
		switch {
		case errors.Is(err, fs.ErrNotExist), err == nil && bytes.Equal(there, rows):
			return name, nil
		case err != nil:
			return to, nil // to rename it there says what is wrong
		}
		name = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(to, ext), n, ext)
	}
}

func (x *rejects) discard() {
	if x.f != nil {
		x.f.Close()
		os.Remove(x.f.Name())
		x.f = nil
	}
}

// say shows the reasons, each once with the lines it stands for.
func (x *rejects) say() {
	for _, r := range x.reasons {
		where := fmt.Sprintf("line %d", r.first)
		if r.n > 1 {
			where = fmt.Sprintf("line %d and %s more", r.first, plural(r.n-1, "row"))
		}
		x.im.a.warn("%s, %s: %s", x.im.name, where, r.text)
	}
	if x.others > 0 {
		x.im.a.warn("and %s for other reasons", plural(x.others, "row"))
	}
}

// ticker says how far a long import is: on a terminal in place, elsewhere a line
// now and then. Short ones say nothing.
type ticker struct {
	a     *app
	what  string
	next  time.Time
	shown bool
	calls int
}

func (im *importing) ticker(what string) *ticker {
	return &ticker{a: im.a, what: what, next: time.Now().Add(time.Second)}
}

func (t *ticker) at(trials int) {
	if t.calls++; t.a.quiet || t.what == "read" && t.calls&1023 != 0 || time.Now().Before(t.next) {
		return
	}
	if t.a.env.Terminal {
		fmt.Fprintf(t.a.env.Stderr, "\r%s: %d trials ", t.what, trials)
		t.next, t.shown = time.Now().Add(200*time.Millisecond), true
		return
	}
	t.a.say("%s: %d trials", t.what, trials)
	t.next = time.Now().Add(10 * time.Second)
}

func (t *ticker) end() {
	if t.shown {
		fmt.Fprint(t.a.env.Stderr, "\r"+strings.Repeat(" ", 40)+"\r")
	}
}
