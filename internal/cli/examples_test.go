package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
)

// TestHelpExamples runs every example of every command's help, each on its own
// copy of the demo kennel with a few slips in it to put right; an example that
// makes an entry which is there already is run on an empty store. All must
// succeed.
func TestHelpExamples(t *testing.T) {
	s := newScript(t)
	s.now = demoClock
	must := func(command string, input ...string) {
		if out := s.run(command, input); strings.Contains(out, "[exit ") {
			t.Fatalf("%s: %s", command, out)
		}
	}
	kennel := filepath.Join(s.dir, "kennel")
	must("firstcue demo --keep kennel")
	s.vars["FIRSTCUE_STORE"] = filepath.Join(kennel, "kennel.db")
	write(t, filepath.Join(s.dir, "trials.csv"), []byte(theirSheet))
	must("firstcue dog add Trn")
	must("firstcue handler add Brem")
	must("firstcue place add padock")
	must("firstcue device add 'bleu remote'")
	must("firstcue cue add recal")
	must("firstcue dog word Tarn 'stay=wait::free'")
	must("firstcue dog home Quince")
	must("firstcue import trials.csv --map 'cue=Command, response=Result' --values 'response: Y=+, N=-' --save-map sheet --yes")
	must("firstcue criteria set target 90 --cue stay --dog Tarn")
	s.run("firstcue log -", []string{"sit +", "END"}) // refused, and kept as draft 1
	sessions := s.run("firstcue sessions Nettle --format json", nil)
	_, id, _ := strings.Cut(s.raw("firstcue sessions Nettle --format json"), `"id": "`)
	if len(id) < 36 {
		t.Fatalf("no session of Nettle: %s", sessions)
	}
	voided := id[36-8 : 36]
	must("firstcue session void " + voided + " --why 'wrong dog'")
	_, incident, _ := strings.Cut(s.raw("firstcue incident list --format json"), `"id": "`)
	incident, _, _ = strings.Cut(incident, `"`)
	if len(incident) < 8 {
		t.Fatal("the demo kennel has no open incident")
	}
	// Bram scores the session of Tarn that Ailsa scores here, for agree.
	for _, scorer := range []string{"Ailsa", "Bram"} {
		must("firstcue log -q --scorer " + scorer + " --text 'dog: Tarn; handler: Ailsa\nstart: 2026-03-19 08:00; place: paddock; leash: off; distraction: 1\nsit 3+'")
	}
	scored, scoredAgain := handleOf(t, s, "Tarn", "2026-03-19T08:00", ""), handleOf(t, s, "Tarn", "2026-03-19T08:00", "rescores")
	ready, err := os.ReadFile(s.vars["FIRSTCUE_STORE"])
	if err != nil {
		t.Fatal(err)
	}
	note := []byte("dog: Tarn; handler: Ailsa\nstart: 2026-03-20 08:00; place: paddock; leash: off; distraction: 1\nsit 3+\n")

	n := 0
	eachCommand(Commands(), func(c *cobra.Command) {
		for _, b := range parseScript("$ "+strings.ReplaceAll(strings.ReplaceAll(c.Example, "\n    ", " "), "\n  ", "\n$ ")[2:], false) {
			if !strings.HasPrefix(b.command, "firstcue") || strings.HasPrefix(b.command, "firstcue live") {
				continue // live needs a terminal, and is driven in one by its own test
			}
			n++
			command := strings.ReplaceAll(strings.ReplaceAll(b.command, "\\ ", " "), "\\\n", " ")
			if strings.Contains(command, "agree") {
				command = strings.NewReplacer("1a2b3c4d", scored, "5e6f7a8b", scoredAgain).Replace(command)
			}
			if strings.Contains(command, "settle") {
				_, form, _ := strings.Cut(s.raw("firstcue session history "+voided+" --format json"), `"form": "`)
				command = strings.ReplaceAll(command, "5e6f7a8b", form[32-8:32])
			}
			command = strings.ReplaceAll(command, "1a2b3c4d", map[bool]string{true: incident[len(incident)-8:], false: voided}[strings.Contains(command, "incident")])
			run := func(empty bool) string {
				e := newScript(t)
				e.now = demoClock
				e.vars["FIRSTCUE_STORE"] = filepath.Join(e.dir, "kennel.db")
				if !empty {
					write(t, filepath.Join(e.dir, "kennel.db"), ready)
				}
				write(t, filepath.Join(e.dir, "kennel-copy.db"), ready)
				write(t, filepath.Join(e.dir, "other-laptop.db"), ready)
				write(t, filepath.Join(e.dir, "tuesday.txt"), note)
				sheet := ourSheet
				if strings.Contains(command, "Command") {
					sheet = theirSheet
				}
				write(t, filepath.Join(e.dir, "trials.csv"), []byte(sheet))
				write(t, filepath.Join(e.dir, "april.csv"), []byte(aprilSheet))
				e.vars["EDITOR"] = "true" // looks at the note and leaves it as it is
				if !strings.Contains(command, "--yes") && (strings.Contains(command, "undo") || strings.Contains(command, "firstcue import") && !strings.Contains(command, "--fields") && !strings.Contains(command, "--maps")) {
					command += " --yes" // there is no terminal here to ask on
				}
				return e.run(command, nil)
			}
			out := run(false)
			if strings.Contains(out, "[exit 2]") && strings.Contains(command, " add ") {
				out = run(true)
			}
			if strings.Contains(out, "[exit ") && !strings.Contains(command, "--exit-code") {
				t.Errorf("%s: example %q fails:\n%s", c.CommandPath(), command, out)
			}
		}
	})
	if n < 60 {
		t.Errorf("only %d examples were found", n)
	}
}

// The spreadsheets that examples name: one whose columns are called as ours, one
// with a trainer's own names, and one without times.
const (
	ourSheet   = "dog,handler,start,place,cue,response\nTarn,Ailsa,2026-03-19 12:00,paddock,sit,+\n"
	theirSheet = "dog,handler,start,place,Command,Result\nTarn,Ailsa,2026-03-19 12:30,paddock,sit,Y\nTarn,Ailsa,2026-03-19 12:30,paddock,sit,N\n"
	aprilSheet = "dog,handler,date,place,Command,Result\nTarn,Ailsa,18/03/2026,paddock,sit,Y\n"
)

func write(t *testing.T, path string, data []byte) {
	t.Helper()
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}

// raw is run without hiding what differs between two runs.
func (s *script) raw(command string) string {
	words, err := splitWords(command)
	if err != nil {
		s.t.Fatal(err)
	}
	var out bytes.Buffer
	s.exec(words, s.vars, strings.NewReader(""), &out, &out)
	return out.String()
}

// TestCompletion presses Tab: the names of the store come, nothing else, and no
// store is made.
func TestCompletion(t *testing.T) {
	s := newScript(t)
	s.now = demoClock
	if out := s.run("firstcue __complete report ''", nil); !strings.HasPrefix(out, ":4\n") {
		t.Errorf("completion without a store: %q", out)
	}
	if out := s.run("ls .local", nil); !strings.Contains(out, "not there") {
		t.Error("completion made a store")
	}
	s.run("firstcue demo --keep kennel", nil)
	s.vars["FIRSTCUE_STORE"] = filepath.Join(s.dir, "kennel", "kennel.db")
	for _, c := range []struct{ command, want string }{
		{"report T", "Tarn\tdue 2026-03-21\nThistle\tdue 2026-03-24\n:4\n"},
		{"criteria Tarn le", "leave it\tresponse\n:4\n"},
		{"log --handler ''", "Ailsa\ttrainer\nBram\ttrainer\nMr Venn\towner\nMrs Oake\towner\nPim\toutsider\n:4\n"},
		{"log --place m", "market square\toff property\nmill lane\toff property\n:4\n"},
		{"log --device ''", "blue remote\tdevice\n:4\n"},
		{"report Tarn --format ''", "text\njson\nhtml\nmarkdown\n:4\n"},
		{"session show las", "last\tthe session that began last\n:36\n"},
		{"criteria set targ", "target\thow long a hold must be kept (s)\n:4\n"},
	} {
		got := s.run("firstcue __complete "+c.command, nil)
		got, _, _ = strings.Cut(got, "Completion ended")
		if got != c.want {
			t.Errorf("Tab after %q:\n%s\nwant:\n%s", c.command, got, c.want)
		}
	}
}

// TestVersionOpensNothing: what needs no store must not look for one.
func TestVersionOpensNothing(t *testing.T) {
	for _, args := range []string{"--version", "--help", "report --help", "completion fish", ""} {
		var out bytes.Buffer
		dir := t.TempDir()
		words, _ := splitWords(args)
		code := Run(context.Background(), Env{
			Args: words, Stdin: strings.NewReader(""), Stdout: &out, Stderr: &out,
			Getenv: func(k string) string {
				if k == "FIRSTCUE_STORE" {
					return filepath.Join(dir, "absent", "kennel.db")
				}
				return ""
			},
			Now: func() time.Time { return demoClock },
		})
		if code != 0 || out.Len() == 0 {
			t.Errorf("firstcue %s: exit %d, %d bytes", args, code, out.Len())
		}
		if _, err := os.Stat(filepath.Join(dir, "absent")); err == nil {
			t.Errorf("firstcue %s made a store", args)
		}
	}
}

// TestDemoSaysTheSame: the same program prints the same demo, byte for byte, and
// leaves nothing behind.
func TestDemoSaysTheSame(t *testing.T) {
	run := func() string {
		s := newScript(t)
		t.Setenv("TMPDIR", s.dir)
		out := s.run("firstcue demo", nil)
		left, _ := os.ReadDir(s.dir)
		if len(left) != 0 {
			t.Errorf("the demo left %v behind", left)
		}
		return out
	}
	one, two := run(), run()
	if one != two {
		t.Error(firstDifference(one, two))
	}
	lines := strings.Count(one, "\n")
	if lines < 60 || lines > 170 {
		t.Errorf("the demo prints %d lines", lines)
	}
	for _, l := range strings.Split(one, "\n") {
		if len([]rune(l)) > 100 {
			t.Errorf("a line of the demo is %d columns wide: %s", len([]rune(l)), l)
		}
	}
}

// TestDemoDogsShowWhatTheyShould holds the invented notes to their purpose.
func TestDemoDogsShowWhatTheyShould(t *testing.T) {
	s := newScript(t)
	s.now = demoClock
	s.run("firstcue demo --keep kennel", nil)
	s.vars["FIRSTCUE_STORE"] = filepath.Join(s.dir, "kennel", "kennel.db")
	type dog struct {
		Verdict string
		Cues    []struct {
			Cue, Verdict string
			Asks         int
			Corrections  struct{ Trend struct{ Direction string } }
			Gates        []struct{ Gate, Standing string }
		}
	}
	trials := 0
	for _, c := range []struct {
		name, verdict string
		holds         func(d dog) bool
		what          string
	}{
		{"Tarn", "ready", func(d dog) bool { return len(d.Cues) == 4 }, "four cues"},
		{"Sorrel", "not ready", func(d dog) bool {
			for _, c := range d.Cues {
				for _, g := range c.Gates {
					if g.Gate == "level" && g.Standing != "met" || g.Gate == "people" && g.Standing != "failed" {
						return false
					}
				}
			}
			return true
		}, "the pooled level met and other people missed, for every cue"},
		{"Gorse", "not ready", func(d dog) bool {
			for _, c := range d.Cues {
				if c.Cue == "come" {
					return c.Corrections.Trend.Direction == "rising"
				}
			}
			return false
		}, "corrections rising"},
		{"Thistle", "on hold", nil, ""},
		{"Quince", "not proven", nil, ""},
		{"Nettle", "not proven", nil, ""},
	} {
		out := s.raw("firstcue report " + c.name + " --format json")
		var d dog
		if err := json.Unmarshal([]byte(out), &d); err != nil {
			t.Fatalf("%s: %v in %.200s", c.name, err, out)
		}
		if d.Verdict != c.verdict {
			t.Errorf("%s is %s, not %s", c.name, d.Verdict, c.verdict)
		}
		if c.holds != nil && !c.holds(d) {
			t.Errorf("%s does not show %s:\n%.3000s", c.name, c.what, out)
		}
		for _, q := range d.Cues {
			trials += q.Asks
		}
	}
	if trials < 500 {
		t.Errorf("only %d trials", trials)
	}
}
