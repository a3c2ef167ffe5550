package cli

import (
	"bytes"
	"context"
	"embed"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
)

// The invented kennel's notes. Everything in them is made up.
//
//go:embed demo/*.txt
var demoNotes embed.FS

// demoClock is the evening on which the demo takes place, so that the same
// program always shows the same thing.
var demoClock = time.Date(2026, 3, 20, 18, 30, 0, 0, time.UTC)

// demoSetUp are the commands that fill the kennel's lists before the notes.
var demoSetUp = [][]string{
	{"handler", "add", "Ailsa", "--role", "trainer"},
	{"handler", "add", "Bram", "--role", "trainer"},
	{"handler", "add", "Pim", "--role", "outsider"},
	{"handler", "add", "Mrs Oake", "--role", "owner"},
	{"handler", "add", "Mr Venn", "--role", "owner"},
	{"place", "add", "paddock"},
	{"place", "add", "barn"},
	{"place", "add", "orchard"},
	{"place", "add", "mill lane", "--off-property"},
	{"place", "add", "market square", "--off-property"},
	{"device", "add", "blue remote", "--lowest", "0", "--highest", "100"},
	{"dog", "add", "Tarn", "--arrived", "2026-03-02", "--due", "2026-03-21", "--owner", "Mrs Oake", "--main", "Ailsa",
		"--goal", "sit, 90%", "--goal", "down, 90%", "--goal", "come at mill lane, owner, 90%", "--goal", "stay, 90%",
		"--word", "down=flat:palm down", "--wishes", "to walk her off leash at the mill and have her come back"},
	{"dog", "add", "Sorrel", "--arrived", "2026-03-02", "--due", "2026-03-21", "--owner", "Mr Venn", "--main", "Ailsa",
		"--goal", "sit", "--goal", "come, owner, 90%", "--goal", "down"},
	{"dog", "add", "Gorse", "--arrived", "2026-03-03", "--due", "2026-03-28", "--main", "Bram", "--device", "blue remote",
		"--consent", "remote collar, written, 2026-03-03", "--goal", "heel", "--goal", "come, distraction 3"},
	{"dog", "add", "Thistle", "--arrived", "2026-03-03", "--due", "2026-03-24", "--main", "Ailsa", "--goal", "sit", "--goal", "down", "--goal", "place"},
	{"dog", "add", "Quince", "--arrived", "2026-03-06", "--due", "2026-04-03", "--main", "Ailsa", "--reward-only",
		"--consent", "reward only, written, 2026-03-06", "--goal", "leave it, distraction 4", "--goal", "come"},
	{"dog", "add", "Nettle", "--arrived", "2026-03-19", "--due", "2026-04-09", "--main", "Bram"},
	{"dog", "hold", "Thistle", "--from", "2026-03-15", "--reason", "sore hip, vet's orders", "--no-collar"},
}

func newDemoCommand(a *app) *cobra.Command {
	var keep string
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Walk through the whole job on an invented kennel",
		Long: `Builds an invented kennel of six dogs from notes inside the program, in a
temporary folder that is removed afterwards, and shows the main job with the real
commands and what they print. Your own store is not touched.

With --keep the kennel stays in a folder of yours (the store kennel.db and the
notes), to try the commands on.`,
		Example: `  firstcue demo
  firstcue demo --keep trial-kennel`,
		Args: takes(0, 0, "no argument"),
		RunE: func(cmd *cobra.Command, _ []string) error { return a.runDemo(cmd.Context(), keep) },
	}
	cmd.Flags().StringVar(&keep, "keep", "", "leave the kennel in this `FOLDER`")
	return cmd
}

// demoStage runs commands of the demo on its own store.
type demoStage struct {
	ctx context.Context
	env Env
	out io.Writer
	dir string // shown as nothing: the notes seem to lie in the working folder
}

// run runs one command and returns its exit code and what it printed.
func (d demoStage) run(stdout, stderr io.Writer, args ...string) int {
	env := d.env
	env.Args, env.Stdout, env.Stderr = args, stdout, stderr
	env.Stdin, env.Terminal = strings.NewReader(""), false
	return Run(d.ctx, env)
}

// show prints a command as it would be typed, and then what it prints.
func (d demoStage) show(args ...string) {
	d.part(0, args...)
}

// part shows a command and only the first lines of its answer; 0 is all of it.
func (d demoStage) part(lines int, args ...string) {
	if d.ctx.Err() != nil {
		return // nobody reads on
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "$ firstcue %s", typed(args))
	if lines > 0 {
		fmt.Fprintf(&b, " | head -%d", lines)
	}
	b.WriteString("\n")
	var answer bytes.Buffer
	d.run(&answer, &answer, args...)
	all := strings.SplitAfter(answer.String(), "\n")
	if lines > 0 {
		all = all[:min(lines, len(all))]
	}
	fmt.Fprintln(d.out, strings.ReplaceAll(b.String()+strings.Join(all, ""), d.dir, ""))
}

func (d demoStage) tell(text string) { fmt.Fprintf(d.out, "# %s\n", text) }

func typed(args []string) string {
	words := make([]string, len(args))
	for i, w := range args {
		words[i] = quote(w)
	}
	return strings.Join(words, " ")
}

func (a *app) runDemo(ctx context.Context, keep string) error {
	dir := keep
	if keep == "" {
		tmp, err := os.MkdirTemp("", "firstcue-demo-")
		if err != nil {
			return failedf(err, "make a temporary folder: %v", err)
		}
		defer os.RemoveAll(tmp)
		dir = tmp
	} else if entries, err := os.ReadDir(keep); err == nil && len(entries) > 0 {
		return usagef("the folder %s is not empty, so the demo kennel was not put into it", keep).try("name a new folder")
	}
	notes, err := a.writeDemoNotes(dir)
	if err != nil {
		return failedf(err, "write the demo's notes: %v", err)
	}

	d := demoStage{ctx: ctx, out: a.env.Stdout, env: a.env, dir: filepath.Join(dir, "notes") + string(filepath.Separator)}
	storeFile := filepath.Join(dir, "kennel.db")
	d.env.Now = func() time.Time { return demoClock }
	outside := a.env.Getenv
	d.env.Getenv = func(k string) string {
		switch k {
		case "FIRSTCUE_STORE":
			return storeFile
		case "XDG_DATA_HOME", "EDITOR", "VISUAL":
			return ""
		}
		return outside(k)
	}
	// Everything but the last day's notes is there before the curtain rises.
	var trouble bytes.Buffer
	for _, c := range demoSetUp {
		if code := d.run(io.Discard, &trouble, c...); code != 0 {
			return failedf(ctx.Err(), "the demo could not be set up: firstcue %s: %s", typed(c), trouble.String())
		}
	}
	today := notes[len(notes)-2:]
	d.env.Now = func() time.Time { return demoClock.Add(-20 * time.Hour) }
	if code := d.run(io.Discard, &trouble, append([]string{"log"}, notes[:len(notes)-2]...)...); code != 0 {
		return failedf(ctx.Err(), "the demo could not be set up: %s", trouble.String())
	}
	d.env.Now = func() time.Time { return demoClock }
	if keep != "" {
		if code := d.run(io.Discard, &trouble, append([]string{"log"}, today...)...); code != 0 {
			return failedf(ctx.Err(), "the demo could not be set up: %s", trouble.String())
		}
		a.say("The demo kennel is in %s. Try it:", keep)
		a.say("  firstcue --store %s report Tarn --as-of 2026-03-20", quote(filepath.Join(keep, "kennel.db")))
		a.say("  firstcue --store %s dog list", quote(filepath.Join(keep, "kennel.db")))
		return nil
	}
	return d.play(today)
}

// writeDemoNotes copies the embedded notes into a folder and returns their
// paths, oldest first.
func (a *app) writeDemoNotes(dir string) ([]string, error) {
	folder := filepath.Join(dir, "notes")
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return nil, err
	}
	entries, err := demoNotes.ReadDir("demo")
	if err != nil {
		return nil, err
	}
	var paths []string
	for _, e := range entries {
		text, err := demoNotes.ReadFile("demo/" + e.Name())
		if err != nil {
			return nil, err
		}
		p := filepath.Join(folder, e.Name())
		if err := os.WriteFile(p, text, 0o644); err != nil {
			return nil, err
		}
		paths = append(paths, p)
	}
	return paths, nil
}

// play is the walk through the main job.
func (d demoStage) play(today []string) error {
	ailsa, bram := today[0], today[1]
	d.tell("An invented kennel on Friday 20 March 2026, half past six in the evening: six dogs, two")
	d.tell("trainers, nearly three weeks of notes. Ailsa typed this on her phone today, and three more:")
	text, err := os.ReadFile(ailsa)
	if err != nil {
		return failedf(err, "read the demo's note: %v", err)
	}
	first, _, _ := strings.Cut(string(text), "\n\n")
	fmt.Fprintf(d.out, "\n%s\n\n", indent(first, "    "))
	d.tell("What would be stored, trial by trial:")
	d.part(8, "log", "--dry-run", ailsa)
	d.tell("Log it. For each cue: first asks answered, before and now.")
	d.show("log", ailsa)
	d.show("log", "-q", bram)
	d.tell("Is Tarn ready to go home tomorrow?")
	d.part(24, "report", "Tarn")
	d.tell("Sorrel answers 9 of 10, like Tarn. But not whoever asks:")
	d.part(24, "report", "Sorrel")
	d.tell("So what next, with ten minutes?")
	d.show("plan", "Sorrel", "--minutes", "10")
	d.tell("Every dog on one page, for the nightly mail:")
	d.part(16, "nightly")
	if err := d.ctx.Err(); err != nil {
		return err
	}
	d.tell("Nothing of this is left behind. To keep it and try: firstcue demo --keep trial-kennel")
	return nil
}
