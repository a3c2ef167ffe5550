package cli

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

// The net: everything that the program says, by name, and a hash of each text.
// A change that means to leave the outputs alone leaves testdata/net.txt alone.
//
//	go test ./internal/cli -run TestNet                    some evenings of the demo
//	FIRSTCUE_NET=all go test ./internal/cli -run TestNet   every evening
//	FIRSTCUE_NET_DIR=/tmp/before go test ...               also write the texts there, to compare two runs with diff -r
//	go test ./internal/cli -run TestNet -update            rewrite the hashes (every evening)
const netFile = "testdata/net.txt"

// netShown are values that are drawn anew in each run, or rest on such a value.
var netShown = []struct {
	re *regexp.Regexp
	to string
}{
	{regexp.MustCompile(`"form": "[0-9a-f]{32}"`), `"form": "FORM"`},
	{regexp.MustCompile(`"writer": ?"[0-9a-f]{16}"`), `"writer": "STORE"`},
	{regexp.MustCompile(`"(id|checksum)": ?"([0-9a-f]{32}|[0-9a-f]{64})"`), `"$1": "HASH"`},
	{regexp.MustCompile(`"parents": ?"[0-9a-f ]+"`), `"parents": "HASHES"`},
}

// netUnordered are the texts whose lines are compared without their order: what
// was changed in the same second stands in the order of identifiers, and these
// rest on the store's own, which is drawn at random.
var netUnordered = regexp.MustCompile(`store journal|exchange|session history`)

type net struct {
	t     *testing.T
	s     *script
	texts map[string]string
	names []string // as they came
}

// add keeps a text under its name.
func (n *net) add(name, text string) {
	if _, ok := n.texts[name]; ok {
		n.t.Fatalf("%s is in the net twice", name)
	}
	text = netKeys(text)
	for _, v := range volatile {
		text = v.re.ReplaceAllString(text, v.to)
	}
	for _, v := range netShown {
		text = v.re.ReplaceAllString(text, v.to)
	}
	if netUnordered.MatchString(name) {
		lines := strings.Split(text, "\n")
		slices.Sort(lines)
		text = strings.Join(lines, "\n")
	}
	n.texts[name] = strings.ReplaceAll(text, n.s.dir, "~")
	n.names = append(n.names, name)
}

// netKeys puts the keys of JSON objects in order, in a text that is one or has
// one in each line: their order says nothing.
func netKeys(text string) string {
	ordered := func(s string) (string, bool) {
		d := json.NewDecoder(strings.NewReader(s))
		d.UseNumber()
		var m map[string]any
		if err := d.Decode(&m); err != nil || d.More() {
			return s, false
		}
		out, err := json.MarshalIndent(m, "", "  ")
		return string(out) + "\n", err == nil
	}
	if out, ok := ordered(text); ok {
		return out
	}
	var b strings.Builder
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, "{\"") {
			line, _ = ordered(line)
		}
		b.WriteString(line)
	}
	return b.String()
}

// run keeps what a command prints on both streams.
func (n *net) run(name, command string) { n.add(name, n.s.run("firstcue "+command, nil)) }

// folder keeps each file of a folder.
func (n *net) folder(name, dir string) {
	entries, err := os.ReadDir(filepath.Join(n.s.dir, dir))
	if err != nil {
		n.t.Fatal(err)
	}
	for _, e := range entries {
		n.add(name+": "+e.Name(), read(n.t, n.s.dir, dir, e.Name()))
	}
}

var netDogs = []string{"Tarn", "Sorrel", "Gorse", "Thistle", "Quince", "Nettle"}

// netEvenings returns the evenings of the demo to look at.
func netEvenings(every bool) []string {
	if !every {
		return []string{"2026-03-11", "2026-03-20"}
	}
	var out []string
	for d := demoClock.AddDate(0, 0, -19); !d.After(demoClock); d = d.AddDate(0, 0, 1) {
		out = append(out, d.Format(time.DateOnly))
	}
	return out
}

// evening looks at the demo kennel on one evening: what is known of every dog
// then, in every format.
func (n *net) evening(day string) {
	n.s.must("clock " + day + " 18:30")
	for _, f := range []string{"text", "markdown", "html", "csv", "json"} {
		n.run(day+" nightly "+f, "nightly --exit-code --format "+f)
	}
	for _, f := range []string{"text", "json"} {
		n.run(day+" plan "+f, "plan --minutes 0 --format "+f)
	}
	for _, dog := range netDogs {
		at := day + " " + dog + " "
		for _, f := range []string{"text", "json", "html", "markdown"} {
			n.run(at+"report "+f, "report "+dog+" --exit-code --format "+f)
		}
		n.run(at+"report all", "report "+dog+" --all")
		n.run(at+"progress text", "progress "+dog)
		n.run(at+"progress json", "progress "+dog+" --format json")
		n.run(at+"plan text", "plan "+dog)
		n.run(at+"plan json", "plan "+dog+" --format json")
		n.run(at+"dog show text", "dog show "+dog)
		n.run(at+"dog show json", "dog show "+dog+" --format json")
		n.run(at+"export summary", "export "+dog+" --summary")
		n.s.must("rm papers")
		n.run(at+"packet", "packet "+dog+" --out papers")
		n.folder(at+"packet", "papers")
	}
}

// lists looks at what the kennel holds, whatever the evening.
func (n *net) lists(at string) {
	for _, c := range []string{
		"dog list --all", "handler list", "place list", "device list", "cue list", "incident list --all", "draft list",
		"sessions --all", "criteria", "criteria --track-record", "recheck", "store journal --all", "store check",
	} {
		for _, f := range []string{"text", "json"} {
			n.run(at+c+" "+f, c+" --format "+f)
		}
	}
	n.run(at+"recheck csv", "recheck --format csv")
	n.run(at+"store conflicts", "store conflicts")
	n.run(at+"import --fields", "import --fields")
	n.run(at+"import --maps", "import --maps")
	n.s.must("rm exchange.jsonl")
	n.run(at+"export bundle", "export --bundle exchange.jsonl")
	n.add(at+"exchange", read(n.t, n.s.dir, "exchange.jsonl"))
}

// dog looks at what is stored of one dog.
func (n *net) dog(at, dog string) {
	at += dog + " "
	n.run(at+"dog show list", "dog show "+dog+" --format list")
	n.run(at+"criteria text", "criteria "+dog)
	n.run(at+"criteria json", "criteria "+dog+" --format json")
	for _, f := range []string{"", " --format jsonl", " --all", " --excel", " --excel --decimal-comma", " --separator tab", " --summary --excel"} {
		n.run(at+"export"+f, "export "+dog+f)
	}
	n.run(at+"sessions text", "sessions "+dog+" --all")
	n.run(at+"sessions json", "sessions "+dog+" --all --format json")
	for _, f := range []string{"text", "json", "note"} {
		n.run(at+"session show "+f, "session show last --format "+f)
	}
	if !strings.HasPrefix(at, "laptops") { // which of two parents comes first is drawn at random
		n.run(at+"session history text", "session history last")
	}
	n.run(at+"session history json", "session history last --format json")
	n.s.must("rm svg.svg")
	n.run(at+"progress svg", "progress "+dog+" --svg svg.svg")
	if n.s.run("ls svg.svg", nil) == "svg.svg\n" {
		n.add(at+"svg", read(n.t, n.s.dir, "svg.svg"))
	}
	n.run(at+"progress ascii", "progress "+dog+" --ascii")
}

// week changes one thing after the other in the kennel, as a week does, and
// keeps what is said of each change.
func (n *net) week() {
	file := func(name, text string) { write(n.t, filepath.Join(n.s.dir, name), []byte(text)) }
	scored := "dog: Tarn; handler: Ailsa; scorer: %s\nstart: 2026-03-20 08:00; place: paddock; leash: off; distraction: 1; source: video\n" +
		"0:14.2 sit\n0:15.1 +\n0:41 down\n0:45 down\n0:46.4 +\n> windy\n"
	file("one.txt", strings.ReplaceAll(scored, "%s", "Ailsa"))
	file("two.txt", strings.ReplaceAll(strings.ReplaceAll(scored, "%s", "Bram"), "0:46.4 +", "0:46.4 @leash"))
	file("bad.txt", "dog: Tran\nsitt +\n")
	file("new.txt", "dog: Tarn; handler: Orla\nstart: 2026-03-20 08:40; place: copse; leash: off; distraction: 1\n"+
		"device: red remote\nsit - @4 +\nheel 2:00 1-\nstay 1:00 -20s\ndown 4/5\n")
	file("rich.txt", `dog: Gorse; handler: Bram
start: 2026-03-20 06:30; place: barn; leash: long line; distraction: 1; source: video; level: 7; reward: food; weather: rain
come whistle 15m +0.9>4.8, -, +1>-
stay 2:00 -45s, - 0:45 @6 +
place 60s released 0:30
down x:sat @verbal help:lure +, 8/10
sit voice hand +1.25, early, already, ?
heel 3:20 2- @6
`)
	file("trials.csv", ourSheet)
	file("theirs.csv", theirSheet)
	file("bad.csv", strings.Replace(ourSheet, ",+", ",maybe", 1))
	steps := []string{
		"log one.txt", "log two.txt", "log one.txt", "log bad.txt", "log --keep bad.txt", "log new.txt",
		"log --new --dry-run new.txt", "log --new new.txt", "log --dry-run --format json rich.txt", "log rich.txt --format json",
		"session amend last --text 'sit -' --why 'seen again'", "session history last", "session void last --why 'another dog'", "undo --yes", "session void last --why 'another dog'",
		"log --dog Nettle --handler Bram --place barn --leash off --distraction 0 --start '2026-03-20 12:00' --cue sit --response yes",
		"import --dry-run trials.csv", "import trials.csv --yes", "import trials.csv --yes", "import bad.csv --yes",
		"import theirs.csv --map 'cue=Command, response=Result' --values 'response: Y=+, N=-' --save-map sheet --dry-run",
		"import theirs.csv --map 'cue=Command, response=Result' --values 'response: Y=+, N=-' --save-map sheet --yes --format json",
		"incident add Nettle 'snapped at the gate'", "incident add Tarn 'yelped at the gate'",
		"handler add Olga --role owner", "handler set Orla --also Orly", "place set copse --off-property", "handler rename Orla 'Mrs Orla' --yes",
		"place add ridge", "place remove ridge --yes", "device add 'green remote' --lowest 0 --highest 9", "device set 'red remote' --highest 10",
		"cue add spin --kind response", "cue set spin --also twirl", "cue remove spin --yes",
		"dog set Tarn --also Tarny --born 2024-05-01", "dog goal Tarn 'stay, 95%'", "dog word Tarn 'stay=wait::free'",
		"dog set Tarn --consent 'remote collar, written, 2026-03-19'", "dog hold Sorrel --from 2026-03-21 --reason 'cut pad'",
		"dog rename Nettle Nettie --yes", "dog rename Nettie Nettle --yes", "criteria set target 85 --cue stay --dog Tarn", "criteria set rate 95%",
		"dog home Quince --day 2026-03-14", "recheck Quince", "recheck Quince --format json", "recheck --format csv",
		"log --in-hold --text 'dog: Quince; handler: Ailsa\nstart: 2026-03-19 09:00; place: barn; leash: off; distraction: 1\ncome 3+\nleave it -'",
	}
	for i, c := range steps {
		n.run(fmt.Sprintf("week %02d %s", i+1, c), c)
	}
}

// sheets previews each sheet, as it is and as JSON.
func (n *net) sheets() {
	files, err := filepath.Glob(filepath.Join(netTop, "testdata", "sheets", "*.csv"))
	if err != nil || len(files) < 2 {
		n.t.Fatalf("%d sheets: %v", len(files), err)
	}
	for _, f := range files {
		base := filepath.Base(f)
		write(n.t, filepath.Join(n.s.dir, base), []byte(read(n.t, f)))
	}
	for _, f := range files {
		base := filepath.Base(f)
		n.run("sheet "+base, "import --dry-run --new "+base)
		n.run("sheet json "+base, "import --dry-run --new --format json "+base)
	}
}

// laptops runs the two laptops' script and keeps what each store holds then.
func (n *net) laptops() {
	old := n.s
	n.s = newScript(n.t)
	defer func() { n.s = old }()
	text := read(n.t, netTop, "testdata", "scripts", "two-laptops.txt")
	for i, b := range parseScript(text, false) {
		if b.command != "" {
			n.add(fmt.Sprintf("laptops %02d %s", i, b.command), n.s.run(b.command, b.input))
		}
	}
	for _, store := range []string{"one.db", "two.db"} {
		n.s.vars["FIRSTCUE_STORE"] = filepath.Join(n.s.dir, store)
		n.lists("laptops " + store + " ")
		n.dog("laptops "+store+" ", "Tarn")
	}
}

// netTop is the top folder, as an absolute path: commands change the working folder.
var netTop, _ = filepath.Abs("../..")

// TestNet holds everything that the program says against the hashes of before.
func TestNet(t *testing.T) {
	every := os.Getenv("FIRSTCUE_NET") == "all" || *update
	file := filepath.Join(netTop, "internal", "cli", netFile)
	n := &net{t: t, texts: map[string]string{}}
	n.s = newScript(t)
	n.sheets()
	n.s = demoKennel(t)
	for _, day := range netEvenings(every) {
		n.evening(day)
	}
	n.s.must("clock 2026-03-20 18:30")
	n.lists("kennel ")
	for _, dog := range netDogs {
		n.dog("kennel ", dog)
	}
	n.week()
	n.lists("after ")
	for _, dog := range netDogs {
		n.dog("after ", dog)
	}
	n.evening("2026-03-21")
	n.laptops()
	n.compare(file, every)
}

// compare holds the texts against the hashes in the file, or rewrites it.
func (n *net) compare(file string, every bool) {
	if dir := os.Getenv("FIRSTCUE_NET_DIR"); dir != "" {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			n.t.Fatal(err)
		}
		for name, text := range n.texts {
			name = strings.Map(func(r rune) rune {
				if strings.ContainsRune(`/ '"\:`, r) {
					return '_'
				}
				return r
			}, name)
			write(n.t, filepath.Join(dir, name[:min(len(name), 120)]), []byte(text))
		}
	}
	var b strings.Builder
	for _, name := range n.names {
		sum := sha256.Sum256([]byte(n.texts[name]))
		fmt.Fprintf(&b, "%s  %s\n", hex.EncodeToString(sum[:6]), strings.ReplaceAll(name, "\n", `\n`))
	}
	if *update {
		write(n.t, file, []byte(b.String()))
		return
	}
	had, now := netLines(read(n.t, file)), netLines(b.String())
	changed := 0
	for name, sum := range now {
		if had[name] != sum {
			n.t.Errorf("differs: %s", name)
			changed++
		}
	}
	gone := 0
	for name := range had {
		if _, ok := now[name]; !ok {
			gone++
		}
	}
	if every && gone > 0 || len(now) < 400 {
		n.t.Errorf("%d outputs were not made, %d were", gone, len(now))
	}
	if changed > 0 {
		n.t.Errorf("%d of %d outputs differ from %s; FIRSTCUE_NET_DIR shows them, -update takes them as meant", changed, len(now), netFile)
	}
}

// netLines reads "hash  name" lines.
func netLines(text string) map[string]string {
	out := map[string]string{}
	for line := range strings.Lines(text) {
		sum, name, _ := strings.Cut(strings.TrimSuffix(line, "\n"), "  ")
		out[name] = sum
	}
	return out
}
