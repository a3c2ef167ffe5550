package cli

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"firstcue/internal/sheet"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

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
	ctx     context.Context
	s       *store.Store
	unasked map[string]bool // dogs of the kennel whose sessions are not read yet
	list    map[knownKey][]knownSession
}

type knownKey struct {
	dog   string
	start int64 // ms
}

func keyOf(s *training.Session) knownKey { return knownKey{s.Dog, s.Start.UnixMilli()} }

func newKnownSessions(ctx context.Context, s *store.Store, k training.Kennel) *knownSessions {
	x := &knownSessions{ctx: ctx, s: s, unasked: map[string]bool{}, list: map[knownKey][]knownSession{}}
	for _, d := range k.Dogs {
		x.unasked[d.Name] = true
	}
	return x
}

func (x *knownSessions) at(s *training.Session) ([]knownSession, error) {
	if x.unasked[s.Dog] {
		delete(x.unasked, s.Dog)
		list, err := x.s.Sessions(x.ctx, store.Filter{Dog: s.Dog, IncludeVoided: true})
		if err != nil {
			return nil, err
		}
		for i := range list {
			at := &list[i]
			x.list[keyOf(at)] = append(x.list[keyOf(at)], knownSession{at.ID, at.Part, fingerprint(at),
				at.Remarks,
				at.Voided == store.ReasonUndone || at.Voided == store.ReasonGone})
		}
	}
	return x.list[keyOf(s)], nil
}

// add notes a session that this import adds as a further part.
func (x *knownSessions) add(s *training.Session, part int) {
	x.list[keyOf(s)] = append(x.list[keyOf(s)], knownSession{part: part, mark: fingerprint(s),
		remarks: s.Remarks})
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
	w       *csv.Writer
}

// rejectReason is a reason with its first row and the number of rows.
type rejectReason struct {
	first sheet.Rejected
	n     int
}

func (x *rejects) reset() {
	x.discard()
	*x = rejects{im: x.im}
}

func (x *rejects) add(r sheet.Rejected) error {
	if len(x.first) < 10 {
		x.first = append(x.first, rejectedJSON{r.Line, r.Reason.Error()})
	}
	same := func(y rejectReason) bool { return sameReason(y.first.Reason, r.Reason) }
	if i := slices.IndexFunc(x.reasons, same); i >= 0 {
		x.reasons[i].n++
	} else if len(x.reasons) < 10 {
		x.reasons = append(x.reasons, rejectReason{r, 1})
	} else {
		x.others++
	}
	l := x.im.opts.Layout
	if x.f == nil {
		if err := x.begin(l); err != nil {
			return err
		}
	}
	row := make([]string, len(l.Header), len(l.Header)+2)
	copy(row, r.Cells)
	return x.w.Write(append(row, strconv.Itoa(r.Line), r.Reason.Error()))
}

func (x *rejects) begin(l sheet.Layout) (err error) {
	if x.f, err = os.CreateTemp(filepath.Dir(x.target()), ".firstcue-rejected-*"); err != nil {
		if x.f, err = os.CreateTemp("", "firstcue-rejected-*"); err != nil {
			return failedf(err, "keep the rejected rows: %v", err)
		}
	}
	if l.Mark {
		if _, err := x.f.WriteString("\ufeff"); err != nil {
			return err
		}
	}
	x.w = csv.NewWriter(x.f)
	x.w.Comma, x.w.UseCRLF = rune(l.Delimiter), true
	return x.w.Write(append(slices.Clone(l.Header), "line in file", "reason"))
}

func (x *rejects) target() string {
	name := x.im.file.name
	switch {
	case x.im.o.rejected != "":
		return x.im.o.rejected
	case name == "-":
		return "import.rejected.csv"
	}
	return strings.TrimSuffix(name, filepath.Ext(name)) + ".rejected.csv"
}

// keep gives the file its name and returns it; "" when no row was rejected.
func (x *rejects) keep() (string, error) {
	if x.f == nil {
		return "", nil
	}
	x.w.Flush()
	from, target := x.f.Name(), x.target()
	err := errors.Join(x.w.Error(), x.f.Close())
	x.f = nil
	to := target
	if err == nil {
		to, err = free(from, target)
	}
	if err != nil {
		os.Remove(from)
		return "", failedf(err, "write %s: %v", target, err)
	}
	if to != target {
		x.im.a.say("%s is kept as it is: it differs from what would be written now", target)
	}
	if err := os.Rename(from, to); err != nil {
		return from, nil // the folder can't be written: leave it where it is, and say where
	}
	return to, nil
}

// free is the name under which the rows at from may be kept: to, or with -2, -3
// and so on behind it where a file of that name says something else. Somebody
// may have put the rows right there.
func free(from, to string) (string, error) {
	mine, err := os.Stat(from)
	if err != nil {
		return to, err
	}
	ext := filepath.Ext(to)
	name := to
	for n := 2; ; n++ {
		there, err := os.Stat(name)
		switch {
		case errors.Is(err, fs.ErrNotExist), err == nil && there.Size() == mine.Size() && alike(from, name):
			return name, nil
		case err != nil:
			return to, nil // to rename it there says what is wrong
		}
		name = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(to, ext), n, ext)
	}
}

func alike(a, b string) bool {
	x, err := os.ReadFile(a)
	y, err2 := os.ReadFile(b)
	return err == nil && err2 == nil && bytes.Equal(x, y)
}

func (x *rejects) discard() {
	if x.f != nil {
		x.f.Close()
		os.Remove(x.f.Name())
		x.f = nil
	}
}
