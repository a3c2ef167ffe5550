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
	"firstcue/internal/training"
)

type packetOptions struct {
	ownerFlags
	out, handoff string
}

func newPacketCommand(a *app) *cobra.Command {
	var o packetOptions
	cmd := &cobra.Command{
		Use:   "packet DOG",
		Short: "Make what the owner takes home",
		Long: `Makes a folder for the owner, to print, to mail or to put on a stick:

  packet.html    two printed pages: how the dog stands, with whom and where, the words,
                 homework, warning signs, whom to call
  appendix.html  the figures behind it, the charts and all cautions
  rechecks.ics   the recheck dates for a calendar; none while nobody is to practise
  trials.csv     a row for each trial, summary.csv a row for each cue; what the
                 columns mean stands in the files that end in -metadata.json

Nothing of your notes, remarks and incidents gets into it, and people who do not train
this dog stand without their names. Read it before you hand it over all the same. A
later packet of the same dog replaces these files, and a calendar moves the dates it
has; a folder that holds another dog's packet is refused.
A day is ` + dayWords + `.`,
		Example: `  firstcue packet Tarn
  firstcue packet Tarn --out tarn --kennel 'Hollin Kennels' --contact '01632 960 144' --vet 'Mill Lane surgery'
  firstcue packet Tarn --at-home 'kitchen, garden, your street, the park'`,
		Args: takes(1, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error { return a.runPacket(cmd.Context(), args[0], o) },
	}
	fs := cmd.Flags()
	fs.StringVar(&o.out, "out", "", "the `FOLDER` to make (default DOG-packet)")
	fs.StringVar(&o.handoff, "handoff", "", "the `DAY` the dog goes home (default: as entered, else the due day)")
	fs.StringVar(&o.vet, "vet", "", "the owner's vet, in `WORDS`")
	fs.StringVar(&o.atHome, "at-home", "", "the owner's own `PLACES` for the homework, easiest first, with commas between")
	fs.StringVar(&o.photo, "photo", "", "a picture of the dog, a JPEG or PNG `FILE`")
	o.add(cmd)
	return cmd
}

func (a *app) runPacket(ctx context.Context, dog string, o packetOptions) error {
	handoff, err := a.day("--handoff", o.handoff)
	if err != nil {
		return err
	}
	return a.withAssessment(ctx, dog, o.asOf, func(x analysis.Assessment, r training.Record) error {
		if handoff == 0 {
			handoff = handoffDay(x)
		}
		options, err := o.options(handoff)
		if err != nil {
			return err
		}
		folder := o.out
		if folder == "" {
			folder = fileWord(x.Name) + "-packet"
		}
		if err := ownFolder(folder, x.Name); err != nil {
			return err
		}
		return a.writePacket(folder, x, r, options)
	})
}

// ownFolder makes the folder of a packet; a file in its place and another dog's packet
// are refused.
func ownFolder(folder, dog string) error {
	if st, err := os.Stat(folder); err == nil && !st.IsDir() {
		return usagef("%s is a file, not a folder", folder).try("name a folder: --out FOLDER")
	}
	switch other := packetOf(folder); {
	case other != "" && training.Key(other) != training.Key(dog):
		return usagef("%s holds %s's packet; name another folder with --out", folder, other)
	case other == "" && foreign(folder):
		return usagef("%s holds a packet.html that is not ours; name another folder with --out", folder)
	}
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return failedf(err, "make the folder %s: %v", folder, err)
	}
	return nil
}

// foreign reports that the folder has a packet.html, which packetOf found to be nobody's.
func foreign(folder string) bool {
	_, err := os.Stat(filepath.Join(folder, "packet.html"))
	return err == nil
}

func (a *app) writePacket(folder string, x analysis.Assessment, r training.Record, o report.OwnerOptions) error {
	trials := report.OwnersTrials(x, r, standing(r.Sessions))
	rests := len(x.Incidents) > 0 || x.Verdict == analysis.OnHold
	files := []struct {
		name  string
		write func(io.Writer) error
	}{
		{"packet.html", func(w io.Writer) error { return report.Packet(w, x, r, o) }},
		{"appendix.html", func(w io.Writer) error { return report.Appendix(w, x, o) }},
		{"rechecks.ics", func(w io.Writer) error { return report.Calendar(w, x, o.Handoff, rests, a.env.Now()) }},
		{"trials.csv", func(w io.Writer) error { return report.TrialsCSV(w, trials, report.CSVOptions{}) }},
		{"trials.csv-metadata.json", func(w io.Writer) error {
			return report.TrialsGuide(w, "trials.csv", trials, report.CSVOptions{})
		}},
		{"summary.csv", func(w io.Writer) error { return report.SummaryCSV(w, x, report.CSVOptions{}) }},
		{"summary.csv-metadata.json", func(w io.Writer) error {
			return report.SummaryGuide(w, "summary.csv", report.CSVOptions{})
		}},
	}
	for _, f := range files {
		if err := a.output(filepath.Join(folder, f.name), f.write); err != nil {
			return err
		}
	}
	a.say("%s's packet as of %s is in %s", x.Name, x.Day, folder)
	a.say("  packet.html    for the owner to read and to print; appendix.html: the figures behind it")
	if rests {
		a.say("  rechecks.ics   no dates: nobody practises for now")
	} else {
		a.say("  rechecks.ics   %s from %s on, for a calendar", plural(len(report.Rechecks(o.Handoff)), "recheck date"), o.Handoff)
	}
	a.say("  trials.csv     %s; summary.csv: %s", plural(countTrials(trials), "trial"), plural(len(x.Cues), "cue"))
	if x.Verdict != analysis.Ready {
		a.say("%s is %s, and the page says so", x.Name, x.Verdict)
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

// handoffDay is when a dog goes or went home, as far as it is known: entered,
// else due, else the day of the judgement.
func handoffDay(x analysis.Assessment) training.Day {
	if x.Stay != nil && x.Stay.Home != 0 {
		return x.Stay.Home
	}
	if x.Stay != nil && x.Stay.Due != 0 {
		return x.Stay.Due
	}
	return x.Day
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
