package cli

import (
	"context"
	"encoding/csv"
	"html"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

type packetOptions struct {
	out, asOf, handoff, kennel, contact, vet string
}

func newPacketCommand(a *app) *cobra.Command {
	var o packetOptions
	cmd := &cobra.Command{
		Use:   "packet DOG",
		Short: "Make what the owner takes home",
		Long: `Makes a folder for the owner, to print, to mail or to put on a stick:

  packet.html    one page: the words and how each ends, where and with whom each is
                 proven and where not, homework, equipment, recheck dates, warning signs
  rechecks.ics   the recheck dates for a calendar
  trials.csv     a row for each trial, summary.csv a row for each cue; what the
                 columns mean stands in the files that end in -metadata.json

None of it holds the name of another dog or another owner, and people who do not train
this dog stand without theirs. Read it before you hand it over all the same. A later
packet of the same dog replaces these files, and a calendar moves the dates it has;
a folder that holds another dog's packet is refused.
A day is ` + dayWords + `.`,
		Example: `  firstcue packet Tarn
  firstcue packet Tarn --out tarn --contact '01632 960 144' --vet 'Mill Lane surgery'`,
		Args: takes(1, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			day, err := a.asOf(o.asOf)
			if err != nil {
				return err
			}
			handoff, err := a.day("--handoff", o.handoff)
			if err != nil {
				return err
			}
			return a.withDog(ctx, args[0], false, func(s *store.Store, k training.Kennel, d training.Dog) error {
				return a.packet(ctx, s, k, d.Name, day, handoff, o)
			})
		},
	}
	fs := cmd.Flags()
	fs.StringVar(&o.out, "out", "", "the `FOLDER` to make (default DOG-packet)")
	fs.StringVar(&o.handoff, "handoff", "", "the `DAY` the dog goes home (default: as entered, else the due day)")
	fs.StringVar(&o.kennel, "kennel", "", "your kennel's `NAME`, for the foot of the page")
	fs.StringVar(&o.contact, "contact", "", "whom the owner asks about training, in `WORDS`, such as a telephone number")
	fs.StringVar(&o.vet, "vet", "", "the owner's vet, in `WORDS`")
	asOfVar(cmd, &o.asOf)
	return cmd
}

func (a *app) packet(ctx context.Context, s *store.Store, k training.Kennel, dog string, day, handoff training.Day, o packetOptions) error {
	x, r, err := a.assess(ctx, s, dog, day)
	if err != nil {
		return err
	}
	before, err := a.askedBefore(ctx, s, x, r)
	if err != nil {
		return err
	}
	r.Kennel = ownersKennel(r, k)
	if handoff == 0 {
		handoff = handoffDay(x)
	}
	folder := o.out
	if folder == "" {
		folder = fileWord(x.Dog.Name) + "-packet"
	}
	if st, err := os.Stat(folder); err == nil && !st.IsDir() {
		return usagef("%s is a file, not a folder", folder).try("name a folder: --out FOLDER")
	}
	if other := packetOf(folder); other != "" && training.Key(other) != training.Key(x.Dog.Name) {
		return usagef("%s holds %s's packet; name another folder with --out", folder, other)
	}
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return failedf(err, "make the folder %s: %v", folder, err)
	}
	trials := report.OwnersTrials(x, r, standing(r.Sessions))
	files := []struct {
		name  string
		write func(io.Writer) error
	}{
		{"packet.html", func(w io.Writer) error {
			return report.Packet(w, x, r, report.PacketOptions{Options: report.Options{Before: before}, Handoff: handoff, Kennel: o.kennel, Contact: o.contact, Vet: o.vet})
		}},
		{"rechecks.ics", func(w io.Writer) error {
			return report.Calendar(w, x.Dog, handoff, toAsk(x), report.Options{})
		}},
		{"trials.csv", func(w io.Writer) error { return report.TrialsCSV(w, trials, report.CSVOptions{}) }},
		{"trials.csv-metadata.json", func(w io.Writer) error {
			return report.TrialsGuide(w, "trials.csv", trials, report.CSVOptions{})
		}},
		{"summary.csv", func(w io.Writer) error { return report.OwnersSummaryCSV(w, x, r, report.CSVOptions{}) }},
		{"summary.csv-metadata.json", func(w io.Writer) error {
			return report.SummaryGuide(w, "summary.csv", report.CSVOptions{})
		}},
	}
	for _, f := range files {
		if err := a.output(filepath.Join(folder, f.name), f.write); err != nil {
			return err
		}
	}
	a.say("%s's packet as of %s is in %s", x.Dog.Name, day, folder)
	a.say("  packet.html    for the owner to read and to print")
	a.say("  rechecks.ics   %s from %s on, for a calendar", plural(len(report.Rechecks(handoff)), "recheck date"), handoff)
	a.say("  trials.csv     %s; summary.csv: %s", plural(countTrials(trials), "trial"), plural(len(x.Cues), "cue"))
	if x.Verdict != analysis.Ready {
		a.say("%s is %s, and the page says so", x.Dog.Name, x.Verdict)
	}
	return nil
}

// packetHeading is where packet.html has the dog's name.
const packetHeading = "<h1><bdi>"

// packetOf is whose packet a folder holds, as its page and else its trials say;
// "" for none.
func packetOf(folder string) string {
	if page, err := os.ReadFile(filepath.Join(folder, "packet.html")); err == nil {
		if _, rest, ok := strings.Cut(string(page), packetHeading); ok {
			name, _, _ := strings.Cut(rest, "<")
			return html.UnescapeString(name)
		}
	}
	f, err := os.Open(filepath.Join(folder, "trials.csv"))
	if err != nil {
		return ""
	}
	defer f.Close()
	rows := csv.NewReader(f)
	header, err := rows.Read()
	if err != nil {
		return ""
	}
	row, err := rows.Read()
	if i := slices.Index(header, "dog"); err == nil && i >= 0 {
		return row[i]
	}
	return ""
}

// ownersKennel returns the record's lists with the names that must not get into
// an owner's papers, because only a name that is known can be kept out: other
// dogs, and other owners under all their spellings. Handlers are those that had
// the dog in hand, so that people without a name are counted from 1.
func ownersKennel(r training.Record, k training.Kennel) training.Kennel {
	out := r.Kennel
	out.Dogs, out.Handlers = k.Dogs, nil
	mine := func(name string) bool {
		key := training.Key(name)
		same := func(n string) bool { return training.Key(n) == key }
		return same(r.Dog.Main) || slices.ContainsFunc(r.Dog.Owners, same) ||
			slices.ContainsFunc(r.Sessions, func(s training.Session) bool { return same(s.Handler) || same(s.Scorer) })
	}
	var others []string
	for _, h := range k.Handlers {
		switch {
		case mine(h.Name):
			out.Handlers = append(out.Handlers, h)
		case h.Role == training.Owner:
			others = append(append(others, h.Name), h.Aliases...)
		}
	}
	if len(others) > 0 {
		out.Dogs = append(slices.Clone(k.Dogs), training.Dog{Owners: others})
	}
	return out
}

// handoffDay is when a dog goes or went home, as far as it is known: entered,
// else due, else the day of the judgement.
func handoffDay(x analysis.Assessment) training.Day {
	for _, d := range []training.Day{x.Boarding.Home, x.Boarding.Due} {
		if d != 0 {
			return d
		}
	}
	return x.AsOf
}

// toAsk lists the cues of a recheck: the agreed ones that were ever asked.
func toAsk(x analysis.Assessment) []string {
	var out []string
	for _, c := range x.Cues {
		if c.Agreed {
			out = append(out, c.Cue)
		}
	}
	return out
}

func countTrials(list []training.Session) int {
	n := 0
	for _, s := range list {
		for _, t := range s.Trials {
			n += t.Count()
		}
	}
	return n
}
