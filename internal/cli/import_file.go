package cli

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
	"time"

	"firstcue/internal/note"
	"firstcue/internal/sheet"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

// sheetFile is the file that is imported.
type sheetFile struct {
	name string // as the user called it
	path string // where its bytes are
	size int64
	hash string
	temp bool // path is a copy of standard input
}

func (f *sheetFile) drop() {
	if f.temp {
		os.Remove(f.path)
	}
}

// fetch makes sure that the file can be read more than once, and takes its hash.
func (f *sheetFile) fetch(ctx context.Context, a *app) error {
	if f.name == "-" {
		if err := f.copy(ctx, a); err != nil {
			return err
		}
	}
	src, err := os.Open(f.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return usagef("there is no file %s", f.name)
	case errors.Is(err, fs.ErrPermission):
		return failedf(err, "%v; nothing was stored", err).try("give yourself the right to read it")
	case err != nil:
		return failedf(err, "%v; nothing was stored", err)
	}
	defer src.Close()
	info, err := src.Stat()
	switch {
	case err != nil:
		return failedf(err, "%v", err)
	case info.IsDir():
		return usagef("%s is a folder, not a file", f.name)
	case !info.Mode().IsRegular():
		return usagef("%s is no plain file", f.name).try("firstcue import - reads standard input")
	}
	h := sha256.New()
	if f.size, err = io.Copy(h, src); err != nil {
		return failedf(err, "read %s: %v", f.name, err)
	}
	f.hash = hex.EncodeToString(h.Sum(nil))
	return nil
}

// copy keeps standard input in a file.
func (f *sheetFile) copy(ctx context.Context, a *app) error {
	to, err := os.CreateTemp("", "firstcue-import-*.csv")
	if err != nil {
		return failedf(err, "keep standard input: %v", err)
	}
	f.path, f.temp = to.Name(), true
	_, err = io.Copy(to, a.input(ctx))
	if err = errors.Join(err, to.Close()); ctx.Err() != nil {
		return ctx.Err()
	} else if err != nil {
		return failedf(err, "read standard input: %v", err)
	}
	return nil
}

// open opens the file at its first row.
func (f *sheetFile) open(m sheet.Mapping) (*sheet.Reader, sheet.Layout, func(), error) {
	src, err := os.Open(f.path)
	if err != nil {
		return nil, sheet.Layout{}, nil, failedf(err, "%v", err)
	}
	r, l, err := sheet.Open(src, m.Wishes())
	if err != nil {
		src.Close()
		return nil, l, nil, usagef("%s: %v", f.name, err)
	}
	return r, l, func() { src.Close() }, nil
}

// mapping puts the remembered map and the flags together.
func (im *importing) mapping(ctx context.Context) (err error) {
	o := im.o
	if o.using != "" {
		if im.m, err = im.a.remembered(ctx, o.using); err != nil {
			return err
		}
	}
	flags := sheet.Mapping{Encoding: sheet.Encoding(strings.ToLower(o.encoding))}
	for _, x := range []struct {
		flag  string
		given []string
		set   func(string) error
	}{
		{"--map", o.maps, flags.AddColumns}, {"--values", o.values, flags.AddValues},
		{"--dates", []string{o.dates}, flags.SetDates},
		{"--delimiter", []string{o.delimiter}, flags.SetDelimiter},
		{"--decimal", []string{o.decimal}, flags.SetDecimal},
	} {
		for _, s := range x.given {
			if s == "" {
				continue
			}
			if err := x.set(s); err != nil {
				return mapError(x.flag, err)
			}
		}
	}
	im.m = im.m.With(flags)
	if o.at != "" {
		if _, err := note.ReadTime("2026-01-01 "+o.at, im.a.env.Now()); err != nil {
			return usagef("--at: %q is not a time of day: write 9:00", o.at)
		}
	}
	return nil
}

// remembered is the map of that name.
func (a *app) remembered(ctx context.Context, name string) (m sheet.Mapping, err error) {
	path, err := a.storePath()
	if err != nil {
		return m, err
	}
	var list []store.Mapping
	if storeExists(path) {
		if err := a.reading(ctx, func(s *store.Store) (err error) {
			list, err = s.Mappings(ctx)
			return err
		}); err != nil {
			return m, err
		}
	}
	var names []string
	for _, x := range list {
		if training.Key(x.Name) == training.Key(name) {
			return sheet.ParseMapping([]byte(x.Text))
		}
		names = append(names, x.Name)
	}
	e := usagef("no map is remembered as %q", name)
	if near := nearest(name, names); near != "" {
		return m, e.try("did you mean %s?", near)
	}
	return m, e.try("firstcue import --maps lists them; --save-map %s keeps one", quote(name))
}

func mapError(flag string, err error) error {
	var u *sheet.UnknownError
	if !errors.As(err, &u) {
		return usagef("%s: %v", flag, err)
	}
	e := usagef("%s: there is no %s %q", flag, u.What, u.Name)
	if near := nearest(u.Name, u.Known); near != "" {
		return e.try("did you mean %s?", near)
	}
	if u.What == "field" {
		return e.try("firstcue import --fields lists the fields; write --map 'FIELD=COLUMN'")
	}
	return e.try("the columns are: %s", strings.Join(u.Known, ", "))
}

// layout finds out how the file is written and which column holds what, and
// says so.
func (im *importing) layout(k training.Kennel) error {
	r, l, done, err := im.file.open(im.m)
	if err != nil {
		return err
	}
	defer done()
	cols, err := im.m.Find(l.Header)
	if err != nil {
		return mapError("--map", err)
	}
	if l, err = sheet.Detect(r, l, cols, im.m.Wishes()); err != nil {
		return usagef("%s: %v", im.file.name, err)
	}
	im.opts = sheet.Options{Layout: l, Columns: cols, Values: im.m.Values, At: im.o.at, Kennel: k,
		Now:      im.a.env.Now(),
		AllowNew: im.o.addNew, DespiteHold: im.o.inHold, Defaults: map[sheet.Field]string{}}
	for i, d := range importDefaults {
		said := im.o.session[i]
		if said != "" && d.field == sheet.Start {
			m, err := note.ReadTime(said, im.a.env.Now())
			if err != nil {
				return usagef("--start: %v", err)
			}
			said = m.Time.Format(time.RFC3339Nano)
		}
		if said != "" {
			im.opts.Defaults[d.field] = said
		}
	}
	im.say(l, cols)
	return im.enough(l, cols)
}

// enough checks that there is what no row can do without.
func (im *importing) enough(l sheet.Layout, cols sheet.Columns) error {
	var lacks, hints []string
	for _, need := range []struct {
		what   string
		fields []sheet.Field
		hint   string
	}{
		{"the dog", []sheet.Field{sheet.Dog}, "--map 'dog=COLUMN', or --dog NAME if all rows are one dog's"},
		{"the day", []sheet.Field{sheet.Start, sheet.Date}, "--map 'date=COLUMN' or 'start=COLUMN'"},
		{"the cue", []sheet.Field{sheet.Cue, sheet.Marks}, "--map 'cue=COLUMN'"},
		{"the answer", []sheet.Field{sheet.Response, sheet.Marks, sheet.Yes, sheet.Walked},
			"--map 'response=COLUMN'"},
	} {
		if !slices.ContainsFunc(need.fields, func(f sheet.Field) bool {
			return cols.At(f) >= 0 || im.opts.Defaults[f] != ""
		}) {
			lacks, hints = append(lacks, need.what), append(hints, need.hint)
		}
	}
	n := len(lacks) - 1
	if n < 0 {
		return nil
	}
	what := lacks[n]
	if n > 0 {
		what = strings.Join(lacks[:n], ", ") + " or " + what
	}
	return usagef("%s: no column is known to hold %s; nothing was stored", im.file.name, what).
		try("the columns are: %s\nsay it with %s", strings.Join(l.Header, ", "), strings.Join(hints,
			"\n         and "))
}

var dateOrders = map[sheet.DateOrder]string{sheet.YMD: "year first", sheet.DMY: "day first", sheet.MDY: "month first"}

// say shows what was found out about the file.
func (im *importing) say(l sheet.Layout, cols sheet.Columns) {
	enc := strings.ToUpper(string(l.Encoding))
	if l.Mark {
		enc += " (by its byte order mark)"
	}
	im.a.say("%s: %s between cells, %s", im.file.name, sheet.DelimiterName(l.Delimiter), enc)
	if cols.At(sheet.Start) >= 0 || cols.At(sheet.Date) >= 0 {
		im.a.say("  dates: %s (%s)", dateOrders[l.Dates], l.DatesBy)
	}
	im.a.say("  decimal mark: %s (%s)", sheet.DecimalName(l.Decimal), l.DecimalBy)
	if len(cols.Unused) < len(l.Header) {
		how := ""
		if len(cols.Guessed) > 0 {
			how = ", guessed from the header where --map does not say"
		}
		im.a.say("  columns%s:", how)
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

// ticker says how far a long import is: on a terminal in place, elsewhere a line
// now and then. Short ones say nothing.
type ticker struct {
	a     *app
	what  string
	next  time.Time
	shown bool
}

func (im *importing) ticker(what string) *ticker {
	return &ticker{a: im.a, what: what, next: time.Now().Add(time.Second)}
}

func (t *ticker) at(trials int) {
	if t.a.quiet || time.Now().Before(t.next) {
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
