package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/sheet"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

// importing is one file on its way into the store.
type importing struct {
	a    *app
	o    importOptions
	file sheetFile
	m    sheet.Mapping
	opts sheet.Options
	found
	rejects *rejects
}

// found is what looking through the file came to.
type found struct {
	res      sheet.Result
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
	im := &importing{a: a, o: o, file: sheetFile{name: name, path: name}}
	k, set, err := a.kennel(ctx)
	if err != nil {
		return err
	}
	a.rules = rulesOf(k, set)
	if err := im.mapping(ctx); err != nil {
		return err
	}
	defer im.file.drop()
	if err := im.file.fetch(ctx, a); err != nil {
		return err
	}
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
	return im.decide(ctx)
}

// decide stores the sessions, or says why not.
func (im *importing) decide(ctx context.Context) (err error) {
	o, kept := im.o, ""
	bad := im.res.Rejected > 0 && !o.skipBad
	if o.dryRun || bad {
		if !o.dryRun || o.rejected != "" {
			if kept, err = im.rejects.keep(); err != nil {
				return err
			}
		}
		return im.stop(bad, kept)
	}
	todo := im.res.Sessions - len(im.skip)
	if todo == 0 {
		im.a.say("nothing new in %s: nothing was stored", im.file.name)
		return im.json(store.BulkResult{})
	}
	if question := fmt.Sprintf("Store %s?", plural(todo, "session")); im.file.name == "-" && !o.yes {
		return usagef("nothing was stored: standard input is the file, so there is nobody to ask (%s)",
			question).
			try("add --yes to go ahead without a question")
	} else if err := im.a.confirm(ctx, o.yes, question); err != nil {
		return err
	}
	if kept, err = im.rejects.keep(); err != nil {
		return err
	}
	return im.store(ctx, kept)
}

// check reads the whole file without storing anything.
func (im *importing) check(ctx context.Context) error {
	path, err := im.a.storePath()
	if err != nil {
		return err
	}
	look := func() error {
		if !storeExists(path) {
			return im.look(ctx, nil)
		}
		return im.a.reading(ctx, func(s *store.Store) error {
			return im.look(ctx, newKnownSessions(ctx, s,
				im.opts.Kennel))
		})
	}
	if err = look(); errors.Is(err, sheet.ErrScattered) {
		im.opts.Gather = true
		im.a.say("  rows of one session do not stand together: the whole file is put in order first")
		err = look()
	}
	var said exitError
	if err == nil || errors.Is(err, context.Canceled) || errors.As(err, &said) {
		return err
	}
	return usagef("%s: %v; nothing was stored", im.file.name, err)
}

// look reads the file once; known is nil where there is no store yet.
func (im *importing) look(ctx context.Context, known *knownSessions) error {
	im.found = found{cues: map[string][]string{}, skip: map[int]bool{}, parts: map[int]int{}}
	im.rejects.reset()
	tick := im.ticker("read")
	defer tick.end()
	n, trials := 0, 0
	res, err := im.read(func(s training.Session) error {
		i := n
		n++
		trials += len(s.Trials)
		if tick.at(trials); ctx.Err() != nil {
			return ctx.Err()
		}
		if known != nil {
			if err := im.compare(known, i, &s); err != nil {
				return err
			}
		}
		if im.skip[i] {
			return nil
		}
		im.touch(&s)
		if len(im.first) < 4 {
			im.first = append(im.first, s)
		}
		return nil
	}, im.rejects.add)
	im.res = res
	return err
}

// read reads the file from its first row.
func (im *importing) read(yield func(training.Session) error,
	reject func(sheet.Rejected) error) (sheet.Result, error) {
	r, _, done, err := im.file.open(im.m)
	if err != nil {
		return sheet.Result{}, err
	}
	defer done()
	return sheet.Read(r, im.opts, yield, reject)
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
			if !k.undone { // that is stored again by the store itself
				im.there++
				im.skip[i] = true
			}
			return nil
		}
		part = max(part, k.part+1)
		if k.part == s.Part && !k.undone {
			clash = &list[j]
		}
	}
	switch {
	case clash == nil || im.o.amend:
	case im.o.again:
		im.parts[i] = part
		known.add(s, part)
	default:
		im.skip[i] = true
		im.suspects = append(im.suspects,
			fmt.Sprintf("%s %s, %s at %s: stored with other trials or remarks (session %s)",
				s.Dog, s.Start.Format("2006-01-02 15:04"), s.Handler, s.Place, report.ShortID(clash.id)))
	}
	return nil
}

// keepFile is how large a file may be to be kept whole in the store, as a note
// is; of a larger one the name and the hash are kept.
const keepFile = 4 << 20

func (im *importing) store(ctx context.Context, kept string) error {
	o := store.BulkOptions{Name: filepath.Base(im.file.name)}
	if im.file.name == "-" {
		o.Name = "standard input"
	}
	if im.file.size <= keepFile {
		text, err := os.ReadFile(im.file.path)
		if err != nil {
			return failedf(err, "%v", err)
		}
		o.Text = text
	}
	about, err := json.Marshal(struct {
		File string `json:"sha256"`
		sheet.Mapping
	}{im.file.hash, im.m})
	if err != nil {
		return err
	}
	o.Mapping = string(about)
	var names training.Kennel
	addNames(&names, im.res.New)
	addNames(&im.opts.Kennel, im.res.New)
	o.New = store.LogRequest{Dogs: names.Dogs, Handlers: names.Handlers, Places: names.Places,
		Devices: names.Devices, Cues: names.Cues}
	tick := im.ticker("stored")
	o.Progress = func(_, trials int) { tick.at(trials) }
	var done store.BulkResult
	before, after := map[string]analysis.Assessment{}, map[string]analysis.Assessment{}
	few := len(im.dogs) <= manyDogs && im.o.format != "json" && !im.a.quiet
	err = im.a.changing(ctx, func(s *store.Store) (err error) {
		if few {
			if before, err = im.a.standings(ctx, s, im.dogs); err != nil {
				return err
			}
		}
		done, err = s.BulkAdd(ctx, im.sessions, o)
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
	if !few {
		im.dogs = nil // what it changed is not shown
	}
	if im.o.format == "json" {
		return im.json(done)
	}
	return im.stored(done, kept, before, after)
}

// sessions reads the file again, for the store.
func (im *importing) sessions(yield func(training.Session, error) bool) {
	n, enough := -1, errors.New("the store takes no more")
	_, err := im.read(func(s training.Session) error {
		if n++; im.skip[n] {
			return nil
		}
		if part, ok := im.parts[n]; ok {
			s.Part = part
			s.Carried = fmt.Sprintf("part: %d", part+1)
		}
		if !yield(s, nil) {
			return enough
		}
		return nil
	}, func(sheet.Rejected) error { return nil })
	if err != nil && err != enough {
		yield(training.Session{}, err)
	}
}

func (im *importing) remember(ctx context.Context, s *store.Store) error {
	text, err := json.Marshal(im.m)
	if err != nil {
		return err
	}
	return s.SetMapping(ctx, im.o.saveMap, string(text))
}
