package cli

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

var update = flag.Bool("update", false, "rewrite the outputs stored in testdata/scripts, README.md and docs")

// A script is the record of a shell: lines that begin with "$ " are run in
// this process, and what follows up to the next one is what they print, both
// streams as a user would see them, then "[exit N]" unless N is 0. A line that
// begins with "# " after a blank line is a comment. The commands below are known
// besides firstcue; they print nothing but what is said here.
//
//	$ cat FILE               print the file
//	$ cat > FILE <<'END'     write the lines up to END to the file
//	$ export NAME=VALUE      set a variable for the commands that follow
//	$ clock 2026-03-04 18:00 set the clock
//	$ mkdir DIR, chmod OCTAL FILE, rm FILE, ls FILE
//
// A command may end in "<<'END'" (what follows is its standard input), "< FILE",
// "> FILE", "2> FILE" or "| head -N". Words are split as a shell does, with
// single and double quotes. $HOME and the working folder are one empty folder,
// shown as ~.
type script struct {
	t     *testing.T
	dir   string
	vars  map[string]string
	now   time.Time
	width int
	usage map[string]bool // commands that were run, for the coverage check
}

func newScript(t *testing.T) *script {
	dir := t.TempDir()
	return &script{
		t:    t,
		dir:  dir,
		vars: map[string]string{"HOME": dir},
		now:  time.Date(2026, 3, 20, 18, 0, 0, 0, time.UTC),
	}
}

// line is a part of a script: kept as it is, or a command with its input and
// the output it should give.
type block struct {
	keep    []string
	command string   // "" = keep only
	input   []string // here-document, with its last line
	want    []string
}

var hereDoc = regexp.MustCompile(`<<\s*'?(\w+)'?`)

// parseScript cuts a record into its commands. In Markdown only fenced
// blocks that begin with "$ " count.
func parseScript(text string, markdown bool) []block {
	var out []block
	inFence, run := false, !markdown
	lines := strings.Split(text, "\n")
	keep := func(s string) {
		if n := len(out); n > 0 && out[n-1].command == "" {
			out[n-1].keep = append(out[n-1].keep, s)
			return
		}
		out = append(out, block{keep: []string{s}})
	}
	for i := 0; i < len(lines); i++ {
		l := lines[i]
		if markdown && strings.HasPrefix(strings.TrimSpace(l), "```") {
			inFence = !inFence
			run = inFence && i+1 < len(lines) && strings.HasPrefix(lines[i+1], "$ ")
			keep(l)
			continue
		}
		if markdown && strings.HasPrefix(l, "<!-- $ ") {
			out = append(out, block{keep: []string{l}}, block{command: strings.TrimSuffix(strings.TrimPrefix(l, "<!-- $ "), " -->"), keep: []string{}})
			continue
		}
		if !run || !strings.HasPrefix(l, "$ ") {
			if n := len(out); run && n > 0 && out[n-1].command != "" && !comment(l, out[n-1].want) {
				out[n-1].want = append(out[n-1].want, l)
				continue
			}
			keep(l)
			continue
		}
		b := block{command: strings.TrimPrefix(l, "$ ")}
		for strings.HasSuffix(b.command, `\`) && i+1 < len(lines) {
			i++
			b.command += "\n" + lines[i]
		}
		if m := hereDoc.FindStringSubmatch(b.command); m != nil {
			for i+1 < len(lines) {
				i++
				b.input = append(b.input, lines[i])
				if lines[i] == m[1] {
					break
				}
			}
		}
		out = append(out, b)
	}
	return out
}

// comment reports whether a line after a command is a comment: a "#" and a word
// after a blank line. A "#" in what a command printed is none.
func comment(line string, want []string) bool {
	return len(want) > 0 && want[len(want)-1] == "" && len(line) > 2 && strings.HasPrefix(line, "# ") && line[2] != ' '
}

// replay runs the record in a file, and compares or rewrites it.
func (s *script) replay(file string, markdown bool) {
	src, err := os.ReadFile(file)
	if err != nil {
		s.t.Fatal(err)
	}
	var got strings.Builder
	for _, b := range parseScript(string(src), markdown) {
		if b.command == "" {
			for _, l := range b.keep {
				got.WriteString(l + "\n")
			}
			continue
		}
		hidden := b.keep != nil
		if !hidden {
			got.WriteString("$ " + b.command + "\n")
			for _, l := range b.input {
				got.WriteString(l + "\n")
			}
		}
		out := s.run(b.command, b.input)
		if hidden {
			if strings.Contains(out, "[exit ") {
				s.t.Errorf("%s: hidden command %q: %s", file, b.command, out)
			}
			continue
		}
		if out = strings.TrimRight(out, "\n"); out != "" {
			got.WriteString(out + "\n")
		}
		// Blank lines after the output belong to the reader, not the command.
		for n := len(b.want); n > 0 && b.want[n-1] == ""; n-- {
			got.WriteString("\n")
		}
	}
	text := strings.TrimSuffix(got.String(), "\n")
	if text == string(src) {
		return
	}
	if *update {
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			s.t.Fatal(err)
		}
		return
	}
	s.t.Errorf("%s: %s\n(go test ./internal/cli -update rewrites it; read the difference)", file, firstDifference(string(src), text))
}

func firstDifference(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range max(len(w), len(g)) {
		var a, b string
		if i < len(w) {
			a = w[i]
		}
		if i < len(g) {
			b = g[i]
		}
		if a != b {
			lo, hiW, hiG := max(0, i-3), min(len(w), i+12), min(len(g), i+12)
			return fmt.Sprintf("first difference in line %d\nwant:\n%s\ngot:\n%s", i+1, strings.Join(w[lo:hiW], "\n"), strings.Join(g[lo:hiG], "\n"))
		}
	}
	return "they differ"
}

// uuids and other values that differ between runs are shown as a word.
var volatile = []struct {
	re *regexp.Regexp
	to string
}{
	// The id of a store is drawn at random, and that of a form rests on it.
	{regexp.MustCompile(`\bform [0-9a-f]{8}`), "form FORM"},
	{regexp.MustCompile(`(session settle [0-9a-f]{8}) [0-9a-f]{8}`), "$1 FORM"},
	{regexp.MustCompile(`\bstore [0-9a-f]{8}\b`), "store ID"},
	{regexp.MustCompile(`replaced-\d{8}T\d{6}`), "replaced-TIME"}, // by the machine's clock, not the script's
	{regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}`), "ID"},
}

// run runs one command and returns what the terminal would show.
func (s *script) run(command string, input []string) string {
	words, err := splitWords(strings.ReplaceAll(command, "\\\n", " "))
	if err != nil {
		s.t.Fatalf("%s: %v", command, err)
	}
	var screen bytes.Buffer
	var stdout, stderr io.Writer = &screen, &screen
	var stdin io.Reader = strings.NewReader("")
	if len(input) > 0 {
		stdin = strings.NewReader(strings.Join(input[:len(input)-1], "\n") + "\n")
	}
	vars := map[string]string{}
	for k, v := range s.vars {
		vars[k] = v
	}
	var args []string
	toFile := map[string]*bytes.Buffer{}
	head := 0
	for i := 0; i < len(words); i++ {
		w := words[i]
		switch {
		case hereDoc.MatchString(w):
		case w == op(">") || w == op("2>"):
			i++
			buf := &bytes.Buffer{}
			toFile[words[i]] = buf
			if w == op(">") {
				stdout = buf
			} else {
				stderr = buf
			}
		case w == op("<"):
			i++
			data, err := os.ReadFile(s.path(words[i]))
			if err != nil {
				s.t.Fatal(err)
			}
			stdin = bytes.NewReader(data)
		case w == op("|"):
			if _, err := fmt.Sscanf(strings.Join(words[i+1:], " "), "head -%d", &head); err != nil {
				s.t.Fatalf("%s: only | head -N is known", command)
			}
			i = len(words)
		case len(args) == 0 && strings.Contains(w, "=") && !strings.HasPrefix(w, "-"):
			k, v, _ := strings.Cut(w, "=")
			vars[k] = v
		default:
			args = append(args, w)
		}
	}
	if len(args) == 0 {
		return ""
	}
	code := s.exec(args, vars, stdin, stdout, stderr)
	for name, buf := range toFile {
		if name != "/dev/null" {
			if err := os.WriteFile(s.path(name), buf.Bytes(), 0o644); err != nil {
				s.t.Fatal(err)
			}
		}
	}
	out := screen.String()
	out = strings.ReplaceAll(out, s.dir, "~")
	for _, v := range volatile {
		out = v.re.ReplaceAllString(out, v.to)
	}
	if out != "" && !strings.HasSuffix(out, "\n") {
		out += "\n"
	}
	if head > 0 {
		lines := strings.SplitAfter(out, "\n")
		out = strings.Join(lines[:min(head, len(lines))], "")
	}
	if code != 0 {
		out += fmt.Sprintf("[exit %d]\n", code)
	}
	return out
}

func (s *script) clock() time.Time { return s.now }

func (s *script) path(name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(s.dir, strings.TrimPrefix(name, "~/"))
}

func (s *script) exec(args []string, vars map[string]string, stdin io.Reader, stdout, stderr io.Writer) int {
	must := func(err error) int {
		if err != nil {
			s.t.Fatalf("%v: %v", args, err)
		}
		return 0
	}
	switch args[0] {
	case "firstcue":
		s.t.Chdir(s.dir)
		return Run(context.Background(), Env{
			Args: args[1:], Stdin: stdin, Stdout: stdout, Stderr: stderr,
			Getenv: func(k string) string { return vars[k] },
			Now:    s.clock,
			Width:  s.width,
		})
	case "cat":
		data, err := io.ReadAll(stdin)
		if len(args) > 1 {
			data, err = os.ReadFile(s.path(args[1]))
		}
		stdout.Write(data)
		return must(err)
	case "export":
		k, v, _ := strings.Cut(args[1], "=")
		s.vars[k] = v
	case "clock":
		t, err := time.Parse("2006-01-02 15:04", strings.Join(args[1:], " "))
		s.now = t
		return must(err)
	case "mkdir":
		return must(os.MkdirAll(s.path(args[1]), 0o755))
	case "chmod":
		var mode uint32
		fmt.Sscanf(args[1], "%o", &mode)
		return must(os.Chmod(s.path(args[2]), os.FileMode(mode)))
	case "rm":
		return must(os.RemoveAll(s.path(args[1])))
	case "ls":
		if _, err := os.Stat(s.path(args[1])); err != nil {
			fmt.Fprintf(stdout, "%s: not there\n", args[1])
			return 0
		}
		fmt.Fprintln(stdout, args[1])
	case "long-line":
		return must(os.WriteFile(s.path(args[1]), bytes.Repeat([]byte("sit + "), 1<<20/6), 0o644))
	case "binary":
		return must(os.WriteFile(s.path(args[1]), []byte("\x7fELF\x02\x01\x00\x00\xff\xfe\x00sit +\n"), 0o644))
	default:
		s.t.Fatalf("unknown command in script: %v", args)
	}
	return 0
}

// op is how splitWords gives an operator of the shell, so that a quoted "|" is a
// word like any other.
func op(s string) string { return "\x00" + s }

// splitWords splits a command line as a shell does, as far as the scripts need.
func splitWords(line string) ([]string, error) {
	var words []string
	var cur strings.Builder
	inWord, quoted := false, false
	var quote rune
	end := func() {
		if w := cur.String(); !inWord {
			return
		} else if !quoted && (w == ">" || w == "2>" || w == "<" || w == "|") {
			words = append(words, op(w))
		} else {
			words = append(words, w)
		}
		cur.Reset()
		inWord, quoted = false, false
	}
	for _, r := range line {
		switch {
		case quote != 0:
			if r == quote {
				quote = 0
			} else {
				cur.WriteRune(r)
			}
		case r == '\'' || r == '"':
			quote, inWord, quoted = r, true, true
		case r == ' ' || r == '\t' || r == '\n':
			end()
		default:
			cur.WriteRune(r)
			inWord = true
		}
	}
	if quote != 0 {
		return nil, fmt.Errorf("quote %c is not closed", quote)
	}
	end()
	return words, nil
}

func TestScripts(t *testing.T) {
	files, err := filepath.Glob("../../testdata/scripts/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no scripts: %v", err)
	}
	for _, f := range files {
		abs, _ := filepath.Abs(f)
		t.Run(strings.TrimSuffix(filepath.Base(f), ".txt"), func(t *testing.T) {
			newScript(t).replay(abs, false)
		})
	}
}

// TestDocumentation runs the examples of README.md and docs. Every document
// starts with an empty store, unless a hidden line (<!-- $ firstcue demo
// --keep . -->) says otherwise.
func TestDocumentation(t *testing.T) {
	files, _ := filepath.Glob("../../docs/*.md")
	for _, f := range append(files, "../../README.md") {
		abs, _ := filepath.Abs(f)
		if _, err := os.Stat(abs); err != nil {
			continue
		}
		t.Run(filepath.Base(f), func(t *testing.T) {
			newScript(t).replay(abs, true)
		})
	}
}
