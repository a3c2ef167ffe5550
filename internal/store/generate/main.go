// Command generate makes invented kennels of any size, for measuring speed. The
// same size and seed always give the same trials. The names, the dogs and how
// they answer are made up and mean nothing.
//
// A kennel has 400 trials a dog, in 20 sessions over a stay of three weeks. Most
// dogs went home long ago; a fixed number is still here, whatever the size, so
// that what is asked of them can be compared between a small and a large kennel.
package main

import (
	"bufio"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"iter"
	"log"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"firstcue/internal/store"
	"firstcue/internal/training"
)

func main() {
	log.SetFlags(0)
	log.SetPrefix("generate: ")
	k := kennel{}
	flag.IntVar(&k.dogs, "dogs", 2500, "`number` of dogs, 400 trials each")
	flag.IntVar(&k.here, "here", 20, "`number` of them that are here on the last day")
	flag.Uint64Var(&k.seed, "seed", 1, "`seed` of the dogs' answers")
	csvFile := flag.String("csv", "", "write the trials to `FILE`, as firstcue import reads them")
	lists := flag.String("lists", "", "make a store at `FILE` with the kennel's lists, and no session")
	full := flag.String("full", "", "make a store at `FILE` with the lists and all trials")
	flag.Parse()
	if flag.NArg() > 0 || k.here < 1 || k.dogs < k.here {
		log.Fatal("usage: generate [-dogs N] [-here N] [-seed N] [-csv FILE] [-lists FILE] [-full FILE]")
	}
	if err := k.make(context.Background(), *csvFile, *lists, *full); err != nil {
		log.Fatal(err)
	}
}

// make writes whichever of the three files has a name.
func (k kennel) make(ctx context.Context, csvFile, lists, full string) error {
	if csvFile != "" {
		f, err := os.Create(csvFile)
		if err != nil {
			return err
		}
		w := bufio.NewWriterSize(f, 1<<20)
		if err := errors.Join(k.writeCSV(w), w.Flush(), f.Close()); err != nil {
			return err
		}
	}
	for _, x := range []struct {
		path     string
		sessions iter.Seq2[training.Session, error]
	}{
		{lists, func(func(training.Session, error) bool) {}},
		{full, k.sessions()},
	} {
		if x.path == "" {
			continue
		}
		if _, err := os.Stat(x.path); err == nil {
			return fmt.Errorf("%s is there already", x.path)
		}
		s, err := store.Open(ctx, x.path, store.Options{Create: true, Writer: "invented"})
		if err != nil {
			return err
		}
		_, err = s.BulkAdd(ctx, x.sessions, store.BulkOptions{Name: filepath.Base(x.path), New: k.lists()})
		if err := errors.Join(err, s.Close()); err != nil {
			return err
		}
	}
	return nil
}

const (
	perDog     = 20 // sessions of a dog
	perCue     = 5  // trials of each cue in a session
	stay       = 21 // days
	perMinutes = 20 // between two sessions of one handler
)

var (
	cues     = []string{"sit", "down", "come", "leave it"}
	handlers = []string{"Tove", "Ailsa", "Bram", "Ines"}
	places   = []string{"paddock", "barn aisle", "lane", "village green", "car park"}
	leashes  = []training.Leash{"leash", "long line", "off"}
	// lastDay is the evening that is looked at; the first dogs came six years
	// before, however many there are.
	lastDay = time.Date(2026, 3, 20, 0, 0, 0, 0, time.FixedZone("", 3600))
	span    = 6 * 365
	// Two syllables and a number: no dog of anybody's.
	heads = []string{"Bar", "Cor", "Dun", "Fen", "Gar", "Hol", "Ker", "Lun", "Mor", "Nib", "Pod", "Quil", "Ros", "Sil", "Tam", "Wil"}
	tails = []string{"ric", "ley", "dle", "kin", "wen", "mo", "ta", "by", "fer", "nock", "ple", "sa", "vin", "zo", "bel", "dor"}
)

const device = "blue remote"

// kennel numbers its dogs from the one that came last, so that the dogs that
// are here have the same names and answers in a kennel of any size.
type kennel struct {
	dogs, here int
	seed       uint64
}

func name(dog int) string {
	return heads[dog%len(heads)] + tails[dog/len(heads)%len(tails)] + " " + strconv.Itoa(dog)
}

// arrived is the day a dog came, as days before the last one.
func (k kennel) arrived(dog int) int {
	if dog < k.here {
		return stay - 1 - dog%3
	}
	return stay + 1 + (span-stay)*(dog-k.here)/(k.dogs-k.here)
}

func (k kennel) lists() store.LogRequest {
	req := store.LogRequest{Devices: []training.Device{{Name: device, Lowest: training.Known(1), Highest: training.Known(20)}}}
	for _, h := range handlers {
		req.Handlers = append(req.Handlers, training.Handler{Name: h, Role: training.Trainer})
	}
	for i, p := range places {
		req.Places = append(req.Places, training.Place{Name: p, OffProperty: i > 2})
	}
	for d := range k.dogs {
		came := lastDay.AddDate(0, 0, -k.arrived(d))
		b := training.Boarding{Arrived: training.DayOf(came), Due: training.DayOf(came.AddDate(0, 0, stay+2))}
		if d >= k.here {
			b.Home = training.DayOf(came.AddDate(0, 0, stay))
		}
		req.Dogs = append(req.Dogs, training.Dog{Name: name(d), Boardings: []training.Boarding{b}})
	}
	return req
}

// answer is one trial: the marks it has in a note, and the cells it has in a
// sheet.
type answer struct {
	cue    string
	yes    bool
	asks   int
	tenths int // latency of an answer to the first ask, tenths of a second
	level  int // of the correction before the second ask; 0 = none
}

// session is what both forms of a session are made from.
type session struct {
	dog            int
	start          time.Time
	handler, place string
	leash          training.Leash
	distraction    int
	answers        [perCue * 4]answer
}

func (k kennel) each(yield func(*session) bool) {
	var s session
	for d := k.dogs - 1; d >= 0; d-- { // in the order in which they came
		r := rand.New(rand.NewPCG(k.seed, uint64(d)))
		skill := 0.35 + 0.3*r.Float64() // where it begins
		came := lastDay.AddDate(0, 0, -k.arrived(d))
		for n := range perDog {
			s.dog, s.start = d, came.AddDate(0, 0, n).Add(9*time.Hour+time.Duration(d%24)*perMinutes*time.Minute)
			s.handler = handlers[max(0, r.IntN(7)-3)]
			s.place = places[r.IntN(len(places))]
			s.leash = leashes[min(n/7, 2)]
			s.distraction = min(n/5, 3)
			good := min(0.97, skill+0.03*float64(n))
			for i := range s.answers {
				a := answer{cue: cues[i/perCue], yes: true, asks: 1}
				switch {
				case r.Float64() < good:
					a.tenths = 6 + r.IntN(22)
				case r.Float64() < 0.2:
					a.yes = false
				default:
					a.asks = 2
					if r.IntN(2) == 0 {
						a.level = 4 + r.IntN(6)
					}
				}
				s.answers[i] = a
			}
			if !yield(&s) {
				return
			}
		}
	}
}

const header = "dog,start,handler,place,leash,distraction,device,cue,response,asks,latency,level\r\n"

func (k kennel) writeCSV(w io.Writer) error {
	if _, err := io.WriteString(w, header); err != nil {
		return err
	}
	var b []byte
	var err error
	k.each(func(s *session) bool {
		b = b[:0]
		head := fmt.Sprintf("%s,%s,%s,%s,%s,%d,%s,", name(s.dog), s.start.Format(time.RFC3339), s.handler, s.place, s.leash, s.distraction, device)
		for i := range s.answers {
			a := &s.answers[i]
			b = append(append(b, head...), a.cue...)
			if a.yes {
				b = append(b, ",yes,"...)
			} else {
				b = append(b, ",no,"...)
			}
			b = append(strconv.AppendInt(b, int64(a.asks), 10), ',')
			if a.tenths > 0 {
				b = append(append(strconv.AppendInt(b, int64(a.tenths/10), 10), '.'), byte('0'+a.tenths%10))
			}
			b = append(b, ',')
			if a.level > 0 {
				b = strconv.AppendInt(b, int64(a.level), 10)
			}
			b = append(b, "\r\n"...)
		}
		_, err = w.Write(b)
		return err == nil
	})
	return err
}

// sessions are the same trials as values, for stores that are too large to be
// worth a way over text.
func (k kennel) sessions() iter.Seq2[training.Session, error] {
	return func(yield func(training.Session, error) bool) {
		k.each(func(s *session) bool {
			v := training.Session{Dog: name(s.dog), Handler: s.handler, Start: s.start, Place: s.place, Leash: s.leash,
				Distraction: training.Known(float64(s.distraction)), Device: device, Source: training.Memory,
				Trials: make([]training.Trial, len(s.answers))}
			note := fmt.Appendf(nil, "dog: %s; handler: %s\nstart: %s; place: %s; leash: %s; distraction: %d\ndevice: %s\n\n",
				v.Dog, v.Handler, s.start.Format("2006-01-02T15:04Z07:00"), v.Place, v.Leash, s.distraction, device)
			for i := range s.answers {
				a := &s.answers[i]
				t := &v.Trials[i]
				*t = training.Trial{Cue: a.cue, Kind: training.Response, Outcome: training.Answered, Asks: a.asks, Line: 5 + i}
				switch {
				case !a.yes:
					t.Outcome, t.Marks = training.Refused, "-"
				case a.level > 0:
					t.Marks = fmt.Sprintf("- @%d +", a.level)
					t.Corrections = []training.Correction{{Kind: training.ByCollar, Level: training.Known(float64(a.level)), Device: device, Served: true}}
				case a.asks == 2:
					t.Marks = "- +"
				default:
					t.Latency = training.Known(float64(a.tenths) / 10)
					t.Marks = "+" + strconv.FormatFloat(t.Latency.V, 'f', -1, 64)
				}
				t.Marks = a.cue + " " + t.Marks
				if i > 0 {
					note = append(note, '\n')
				}
				note = append(note, t.Marks...)
			}
			v.Note = string(note)
			return yield(v, nil)
		})
	}
}
