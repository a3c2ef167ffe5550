package report

import (
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"sort"
	"strconv"
	"strings"
	"time"

	"firstcue/internal/training"
)

// field is one column of the trials file: its name, what it means, its W3C CSVW
// datatype, how it is written and how it is read back.
type field struct {
	name, about, datatype string
	unit                  string
	write                 func(c *csvWriter, s *training.Session, t *training.Trial, position int) string
	read                  func(p *rowReader, s *training.Session, t *training.Trial)
}

func textField(name, about string, of func(s *training.Session, t *training.Trial) *string) field {
	return field{name: name, about: about, datatype: "string",
		write: func(c *csvWriter, s *training.Session, t *training.Trial, _ int) string { return c.text(*of(s, t)) },
		read:  func(p *rowReader, s *training.Session, t *training.Trial) { *of(s, t) = p.text(name) }}
}

func numField(name, about, unit string, of func(s *training.Session, t *training.Trial) *training.Num) field {
	return field{name: name, about: about, datatype: "number", unit: unit,
		write: func(c *csvWriter, s *training.Session, t *training.Trial, _ int) string { return c.num(*of(s, t)) },
		read:  func(p *rowReader, s *training.Session, t *training.Trial) { *of(s, t) = p.num(name) }}
}

// intField writes a whole number; one that says nothing about the trial at hand
// is left empty, which is read back as 0.
func intField(name, about string, of func(s *training.Session, t *training.Trial) *int, applies func(t *training.Trial) bool) field {
	return field{name: name, about: about, datatype: "integer",
		write: func(_ *csvWriter, s *training.Session, t *training.Trial, _ int) string {
			if v := *of(s, t); v != 0 || applies == nil || applies(t) {
				return strconv.Itoa(v)
			}
			return ""
		},
		read: func(p *rowReader, s *training.Session, t *training.Trial) { *of(s, t) = p.int(name) }}
}

// wordField is a text with a fixed list of words.
func wordField[T ~string](name, about string, of func(s *training.Session, t *training.Trial) *T, words []T) field {
	return field{name: name, about: about, datatype: "string",
		write: func(c *csvWriter, s *training.Session, t *training.Trial, _ int) string {
			return c.text(string(*of(s, t)))
		},
		read: func(p *rowReader, s *training.Session, t *training.Trial) {
			v := T(p.text(name))
			if v == "" {
				return
			}
			for _, w := range words {
				if v == w {
					*of(s, t) = v
					return
				}
			}
			p.problem(name, fmt.Sprintf("%q is none of %s", string(v), wordList(words)))
		}}
}

func wordList[T ~string](words []T) string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = string(w)
	}
	return strings.Join(out, ", ")
}

var outcomes = []training.Outcome{training.Answered, training.Refused, training.Held, training.Broke, training.Released, training.Walked,
	training.Counted, training.Unscored, training.Early, training.Already}

var correctionKinds = []training.CorrectionKind{training.ByLeash, training.ByVoice, training.ByCollar}

type (
	session = training.Session
	trial   = training.Trial
)

// trialFields lists the columns of a trials file with room for so many prompts
// and corrections a trial: one plain value a cell needs a column for each.
func trialFields(prompts, corrections int) []field {
	fields := []field{
		textField("session", "identifier of the session", func(s *session, _ *trial) *string { return &s.ID }),
		{name: "revision", about: "1 as first logged, higher after corrections of the record; empty before it was stored", datatype: "integer",
			write: func(_ *csvWriter, s *session, _ *trial, _ int) string {
				if s.Revision == 0 {
					return ""
				}
				return strconv.Itoa(s.Revision)
			},
			read: func(p *rowReader, s *session, _ *trial) { s.Revision = p.int("revision") }},
		textField("dog", "name of the dog", func(s *session, _ *trial) *string { return &s.Dog }),
		{name: "date", about: "calendar day of the session where it was held; for reading only, start is what counts", datatype: "date",
			write: func(_ *csvWriter, s *session, _ *trial, _ int) string { return s.Day().String() }},
		{name: "start", about: "start of the session, with its offset from UTC", datatype: "datetime",
			write: func(_ *csvWriter, s *session, _ *trial, _ int) string { return s.Start.Format(time.RFC3339Nano) },
			read: func(p *rowReader, s *session, _ *trial) {
				v := p.text("start")
				at, err := time.Parse(time.RFC3339Nano, v)
				if err != nil {
					p.problem("start", fmt.Sprintf("%q is not a time: write it as 2026-03-04T09:10:00+01:00", v))
					return
				}
				s.Start = at
			}},
		textField("zone", "IANA time zone of the start, if known", func(s *session, _ *trial) *string { return &s.Zone }),
		intField("part", "0, or the number of this part where one start covers several places or handlers", func(s *session, _ *trial) *int { return &s.Part }, nil),
		textField("handler", "who gave the cue", func(s *session, _ *trial) *string { return &s.Handler }),
		textField("scorer", "who wrote it down, if somebody else", func(s *session, _ *trial) *string { return &s.Scorer }),
		textField("place", "where", func(s *session, _ *trial) *string { return &s.Place }),
		wordField("leash", "how the dog was kept: leash, long line, drag line or off", func(s *session, _ *trial) *training.Leash { return &s.Leash }, training.Leashes),
		numField("distraction", "0 familiar and quiet to 4 this dog's hardest thing; an order, never to be averaged", "", func(s *session, _ *trial) *training.Num { return &s.Distraction }),
		textField("device", "collar in use", func(s *session, _ *trial) *string { return &s.Device }),
		numField("working_level", "lowest dial level the dog noticed that day; compares with the same device only", "", func(s *session, _ *trial) *training.Num { return &s.WorkingLevel }),
		textField("weather", "weather", func(s *session, _ *trial) *string { return &s.Weather }),
		textField("reward", "reward in use", func(s *session, _ *trial) *string { return &s.Reward }),
		wordField("source", "how the record was made: live, video or memory", func(s *session, _ *trial) *training.Source { return &s.Source }, training.Sources),
		{name: "baseline", about: "true for a session held before any teaching of its cues", datatype: "boolean",
			write: func(_ *csvWriter, s *session, _ *trial, _ int) string { return strconv.FormatBool(s.Baseline) },
			read:  func(p *rowReader, s *session, _ *trial) { s.Baseline = p.bool("baseline") }},
		textField("rescores", "session that this is a second scoring of; adds no trials to any figure", func(s *session, _ *trial) *string { return &s.Rescores }),
		textField("withdrawn", "why the session was withdrawn; empty when it stands", func(s *session, _ *trial) *string { return &s.Voided }),
		{name: "trial", about: "position of the trial in its session, 1 first", datatype: "integer",
			write: func(_ *csvWriter, _ *session, _ *trial, position int) string { return strconv.Itoa(position) }},
		textField("cue", "the cue", func(_ *session, t *trial) *string { return &t.Cue }),
		wordField("kind", "response: one answer; hold: a position kept for a time; motion: a position kept while walking", func(_ *session, t *trial) *training.Kind { return &t.Kind }, training.Kinds),
		textField("signal", "form of the first ask: voice, hand, whistle, tone, vibration, context, or two joined with +", func(_ *session, t *trial) *string { return (*string)(&t.Signal) }),
		wordField("outcome", "what became of the trial; unscored, early and already stand in no denominator, counted is a tally", func(_ *session, t *trial) *training.Outcome { return &t.Outcome }, outcomes),
		intField("asks", "how often the cue was given", func(_ *session, t *trial) *int { return &t.Asks }, func(t *trial) bool { return t.Outcome != training.Counted && t.Outcome != training.Early }),
		textField("did_instead", "what the dog did on the first wrong answer; ? when not named", func(_ *session, t *trial) *string { return &t.Did }),
		numField("latency_s", "from the start of the ask that was answered to the start of the response; empty when it was not timed", "second", func(_ *session, t *trial) *training.Num { return &t.Latency }),
		numField("completion_s", "from the start of that ask to the end of the response", "second", func(_ *session, t *trial) *training.Num { return &t.Completion }),
		numField("waited_s", "how long the first ask stood unanswered: a lower limit of its latency, no latency", "second", func(_ *session, t *trial) *training.Num { return &t.Waited }),
		numField("begun_s", "start of a response to the first ask that was not completed", "second", func(_ *session, t *trial) *training.Num { return &t.Begun }),
		numField("target_s", "hold: time asked for", "second", func(_ *session, t *trial) *training.Num { return &t.Target }),
		numField("held_s", "hold: time until it broke or was released", "second", func(_ *session, t *trial) *training.Num { return &t.Held }),
		numField("walked_s", "motion: time walked", "second", func(_ *session, t *trial) *training.Num { return &t.Walked }),
		intField("breaks", "hold, motion: breaks of position", func(_ *session, t *trial) *int { return &t.Breaks }, func(t *trial) bool {
			switch t.Outcome {
			case training.Held, training.Broke, training.Released, training.Walked:
				return true
			}
			return false
		}),
		numField("distance_m", "distance between dog and handler", "metre", func(_ *session, t *trial) *training.Num { return &t.Distance }),
		intField("tally_yes", "tally: trials answered on the first ask", func(_ *session, t *trial) *int { return &t.Tally.Yes }, func(t *trial) bool { return t.Tally.Of > 0 }),
		intField("tally_of", "tally: trials this row stands for; empty when it stands for itself", func(_ *session, t *trial) *int { return &t.Tally.Of }, func(t *trial) bool { return t.Tally.Of > 0 }),
		numField("clock_s", "timed record: when the trial opened on its clock", "second", func(_ *session, t *trial) *training.Num { return &t.At }),
	}
	for i := range prompts {
		name := fmt.Sprintf("prompt_%d", i+1)
		fields = append(fields, field{name: name, about: "help given", datatype: "string",
			write: func(c *csvWriter, _ *session, t *trial, _ int) string {
				if i >= len(t.Prompts) {
					return ""
				}
				return c.text(t.Prompts[i])
			},
			read: func(p *rowReader, _ *session, t *trial) {
				if v := p.text(name); v != "" {
					t.Prompts = append(t.Prompts, v)
				}
			}})
	}
	for i := range corrections {
		fields = append(fields, correctionFields(i)...)
	}
	return append(fields,
		textField("note_marks", "the trial in the notation of a session note", func(_ *session, t *trial) *string { return &t.Marks }),
		intField("note_line", "line of the note it was written on; 0 = not known", func(_ *session, t *trial) *int { return &t.Line }, nil))
}

func correctionFields(i int) []field {
	prefix := fmt.Sprintf("correction_%d_", i+1)
	write := func(of func(c *csvWriter, k training.Correction) string) func(*csvWriter, *session, *trial, int) string {
		return func(c *csvWriter, _ *session, t *trial, _ int) string {
			if i >= len(t.Corrections) {
				return ""
			}
			return of(c, t.Corrections[i])
		}
	}
	return []field{
		{name: prefix + "kind", about: "correction: leash, verbal or collar; empty = none", datatype: "string",
			write: write(func(c *csvWriter, k training.Correction) string { return c.text(string(k.Kind)) }),
			read: func(p *rowReader, _ *session, t *trial) {
				kind := training.CorrectionKind(p.text(prefix + "kind"))
				if kind == "" {
					for _, rest := range []string{"level", "device"} {
						if p.text(prefix+rest) != "" {
							p.problem(prefix+rest, "a "+rest+" without a kind of correction: no correction is not level 0")
						}
					}
					return
				}
				ok := false
				for _, k := range correctionKinds {
					ok = ok || k == kind
				}
				if !ok {
					p.problem(prefix+"kind", fmt.Sprintf("%q is none of %s", string(kind), wordList(correctionKinds)))
					return
				}
				t.Corrections = append(t.Corrections, training.Correction{Kind: kind, Level: p.num(prefix + "level"),
					Device: p.text(prefix + "device"), Served: p.bool(prefix + "answered")})
			}},
		{name: prefix + "level", about: "dial level; compares with the same device only", datatype: "number",
			write: write(func(c *csvWriter, k training.Correction) string { return c.num(k.Level) })},
		{name: prefix + "device", about: "device of the level", datatype: "string",
			write: write(func(c *csvWriter, k training.Correction) string { return c.text(k.Device) })},
		{name: prefix + "answered", about: "true when the next ask of the trial was answered", datatype: "boolean",
			write: write(func(_ *csvWriter, k training.Correction) string { return strconv.FormatBool(k.Served) })},
	}
}

// room returns how many prompts and corrections the fullest trial has, at least
// one of each, so that a file always has the columns.
func room(sessions []training.Session) (prompts, corrections int) {
	prompts, corrections = 1, 1
	for _, s := range sessions {
		for _, t := range s.Trials {
			prompts, corrections = max(prompts, len(t.Prompts)), max(corrections, len(t.Corrections))
		}
	}
	return prompts, corrections
}

// TrialsCSV writes a row a trial, in the order given: RFC 4180, ISO 8601 times,
// one plain value a cell, empty for unknown. Text that a spreadsheet would run
// as a formula stands behind an apostrophe, which ReadTrialsCSV takes away. A
// session without a trial has no row; notes and remarks are not in the file.
func TrialsCSV(w io.Writer, sessions []training.Session, o CSVOptions) error {
	fields := trialFields(room(sessions))
	c := newCSV(w, o)
	row := make([]string, len(fields))
	for i, f := range fields {
		row[i] = f.name
	}
	c.row(row...)
	for i := range sessions {
		s := &sessions[i]
		for j := range s.Trials {
			for k, f := range fields {
				row[k] = f.write(c, s, &s.Trials[j], j+1)
			}
			c.row(row...)
		}
	}
	return c.close()
}

// RowProblem is why a row of a file was not taken. Row 1 is the header.
type RowProblem struct {
	Row    int
	Column string // "" = the whole row
	Text   string
}

func (p RowProblem) String() string {
	if p.Column == "" {
		return fmt.Sprintf("row %d: %s", p.Row, p.Text)
	}
	return fmt.Sprintf("row %d, %s: %s", p.Row, p.Column, p.Text)
}

type rowReader struct {
	row      int
	at       map[string]int
	cells    []string
	comma    bool // decimal commas allowed
	problems []RowProblem
}

func (p *rowReader) problem(column, text string) {
	p.problems = append(p.problems, RowProblem{p.row, column, text})
}

func (p *rowReader) cell(name string) string {
	i, ok := p.at[name]
	if !ok {
		return ""
	}
	return p.cells[i]
}

func (p *rowReader) text(name string) string { return unguard(p.cell(name)) }

func (p *rowReader) num(name string) training.Num {
	v := strings.TrimSpace(p.cell(name))
	if v == "" {
		return training.Num{}
	}
	if p.comma {
		v = strings.Replace(v, ",", ".", 1)
	}
	f, err := strconv.ParseFloat(v, 64)
	if n := finite(training.Known(f)); err != nil || !n.Known {
		p.problem(name, fmt.Sprintf("%q is not a number", p.cell(name)))
		return training.Num{}
	}
	return training.Known(f)
}

func (p *rowReader) int(name string) int {
	v := strings.TrimSpace(p.cell(name))
	if v == "" {
		return 0
	}
	n, err := strconv.Atoi(v)
	if err != nil || n < 0 {
		p.problem(name, fmt.Sprintf("%q is not a whole number", p.cell(name)))
	}
	return n
}

func (p *rowReader) bool(name string) bool {
	switch strings.ToLower(strings.TrimSpace(p.cell(name))) {
	case "", "false", "0": // a spreadsheet may write FALSE
		return false
	case "true", "1":
		return true
	}
	p.problem(name, fmt.Sprintf("%q is neither true nor false", p.cell(name)))
	return false
}

// ReadTrialsCSV reads a file that TrialsCSV wrote, also after a spreadsheet
// saved it with another separator: it takes away a byte order mark and finds
// comma, semicolon or tab from the header. Rows with a problem are left out and
// told; a file that is no trials file at all is an error. Rows of one session
// that stand together make one session.
func ReadTrialsCSV(r io.Reader) ([]training.Session, []RowProblem, error) {
	raw, err := io.ReadAll(r)
	if err != nil {
		return nil, nil, err
	}
	body := strings.TrimPrefix(string(raw), "\ufeff")
	header, _, _ := strings.Cut(body, "\n")
	sep := ','
	for _, s := range ";\t" {
		if strings.Count(header, string(s)) > strings.Count(header, string(sep)) {
			sep = s
		}
	}
	rows, err := splitCSV(body, sep)
	if err != nil {
		return nil, nil, err
	}
	if len(rows) == 0 {
		return nil, nil, fmt.Errorf("the file is empty: it has no header row")
	}
	p := &rowReader{row: 1, at: map[string]int{}, comma: sep != ','}
	prompts, corrections := 0, 0
	for i, name := range rows[0] {
		if _, twice := p.at[name]; twice {
			return nil, nil, fmt.Errorf("the header has the column %q twice", name)
		}
		p.at[name] = i
		var n int
		if _, err := fmt.Sscanf(name, "prompt_%d", &n); err == nil {
			prompts = min(max(prompts, n), len(rows[0]))
		}
		if _, err := fmt.Sscanf(name, "correction_%d_kind", &n); err == nil {
			corrections = min(max(corrections, n), len(rows[0]))
		}
	}
	for _, must := range []string{"dog", "start", "cue", "outcome"} {
		if _, ok := p.at[must]; !ok {
			return nil, nil, fmt.Errorf("this is not a trials file: the header has no column %q", must)
		}
	}
	fields := trialFields(prompts, corrections)
	knownNames := map[string]bool{}
	for _, f := range fields {
		knownNames[f.name] = true
	}
	for _, name := range rows[0] {
		if !knownNames[name] {
			p.problem(name, "column not known: left out")
		}
	}
	var out []training.Session
	for i, cells := range rows[1:] {
		p.row, p.cells = i+2, cells
		if len(cells) == 1 && cells[0] == "" {
			continue // an empty line, as editors leave at the end
		}
		if len(cells) != len(rows[0]) {
			p.problem("", fmt.Sprintf("%d cells under %d headers", len(cells), len(rows[0])))
			continue
		}
		var s training.Session
		var t training.Trial
		before := len(p.problems)
		for _, f := range fields {
			if _, there := p.at[f.name]; there && f.read != nil {
				f.read(p, &s, &t)
			}
		}
		for _, must := range []string{"dog", "cue", "outcome"} {
			if p.text(must) == "" {
				p.problem(must, "is empty")
			}
		}
		if len(p.problems) > before {
			continue
		}
		if n := len(out); n == 0 || !sameSession(out[n-1], s) {
			out = append(out, s)
		}
		last := &out[len(out)-1]
		if head := *last; !sameHead(head, s) {
			p.problem("session", "tells other things of its session (weather, device, reward, ...) than the row above it")
			continue
		}
		last.Trials = append(last.Trials, t)
	}
	return out, p.problems, nil
}

// sameSession reports that two rows tell of one session.
func sameSession(a, b training.Session) bool {
	return a.ID == b.ID && a.Dog == b.Dog && a.Handler == b.Handler && a.Start.Equal(b.Start) && a.Part == b.Part && a.Place == b.Place &&
		a.Leash == b.Leash && a.Distraction == b.Distraction && a.Rescores == b.Rescores
}

// sameHead reports that two rows agree on everything about their session.
func sameHead(a, b training.Session) bool {
	a.Trials, b.Trials, a.Start, b.Start = nil, nil, time.Time{}, time.Time{}
	return reflect.DeepEqual(a, b)
}

// splitCSV cuts a text into rows by RFC 4180. Unlike the standard library it
// leaves line breaks inside a quoted field as they are.
func splitCSV(s string, sep rune) ([][]string, error) {
	var rows [][]string
	var row []string
	line := 1
	for len(s) > 0 {
		var cell string
		if s[0] == '"' {
			var b strings.Builder
			opened := line
			s = s[1:]
			for {
				i := strings.IndexByte(s, '"')
				if i < 0 {
					return nil, fmt.Errorf("line %d: a quote is opened and never closed", opened)
				}
				line += strings.Count(s[:i], "\n")
				b.WriteString(s[:i])
				s = s[i+1:]
				if !strings.HasPrefix(s, `"`) {
					break
				}
				b.WriteByte('"')
				s = s[1:]
			}
			cell = b.String()
			if s != "" && s[0] != '\n' && !strings.HasPrefix(s, "\r\n") && !strings.HasPrefix(s, string(sep)) {
				return nil, fmt.Errorf("line %d: text after a closing quote", line)
			}
		} else {
			i := strings.IndexFunc(s, func(r rune) bool { return r == sep || r == '\n' })
			if i < 0 {
				i = len(s)
			}
			cell = s[:i]
			s = s[i:]
			if s != "" && s[0] == '\n' || s == "" {
				cell = strings.TrimSuffix(cell, "\r")
			}
		}
		row = append(row, cell)
		switch {
		case s == "":
		case strings.HasPrefix(s, "\r\n"):
			s = s[2:]
		case s[0] == '\n':
			s = s[1:]
		default:
			s = s[len(string(sep)):]
			if s == "" {
				row = append(row, "")
				break
			}
			continue
		}
		line++
		rows = append(rows, row)
		row = nil
	}
	if row != nil {
		rows = append(rows, row)
	}
	return rows, nil
}

// csvw structures of the W3C Metadata Vocabulary for Tabular Data (2015).
type csvwTable struct {
	Context string      `json:"@context"`
	URL     string      `json:"url"`
	Title   string      `json:"dc:title"`
	About   string      `json:"dc:description"`
	Dialect csvwDialect `json:"dialect"`
	Schema  csvwSchema  `json:"tableSchema"`
}

type csvwDialect struct {
	Delimiter string `json:"delimiter"`
	Encoding  string `json:"encoding"`
	Header    bool   `json:"header"`
}

type csvwSchema struct {
	Columns []csvwColumn `json:"columns"`
}

type csvwColumn struct {
	Name     string `json:"name"`
	Titles   string `json:"titles"`
	About    string `json:"dc:description"`
	Datatype any    `json:"datatype"`
	Unit     string `json:"schema:unitText,omitempty"`
}

type csvwNumber struct {
	Base   string     `json:"base"`
	Format csvwFormat `json:"format"`
}

type csvwFormat struct {
	DecimalChar string `json:"decimalChar"`
}

func guide(w io.Writer, file, title, about string, fields []field, o CSVOptions) error {
	t := csvwTable{Context: "http://www.w3.org/ns/csvw", URL: file, Title: title,
		About:   about + " An empty cell is unknown, which is not 0. An apostrophe in front of = + - @ ' a tab or a line break keeps a spreadsheet from running the cell; it is not part of the text.",
		Dialect: csvwDialect{string(o.separator()), "utf-8", true}}
	for _, f := range fields {
		c := csvwColumn{Name: f.name, Titles: f.name, About: f.about, Datatype: f.datatype, Unit: f.unit}
		if f.datatype == "number" && o.DecimalComma && o.separator() != ',' {
			c.Datatype = csvwNumber{"number", csvwFormat{","}}
		}
		t.Schema.Columns = append(t.Schema.Columns, c)
	}
	return writeJSON(w, t)
}

// TrialsGuide writes the column guide of the file that TrialsCSV writes of the
// same sessions with the same options, as W3C CSV-on-the-Web metadata. File is
// the name of the CSV file.
func TrialsGuide(w io.Writer, file string, sessions []training.Session, o CSVOptions) error {
	return guide(w, file, "Trials", "One row for each trial.", trialFields(room(sessions)), o)
}

type jsonTrial struct {
	Schema      string               `json:"schema"`
	Session     string               `json:"session"`
	Revision    int                  `json:"revision"`
	Dog         string               `json:"dog"`
	Start       string               `json:"start"`
	Zone        string               `json:"zone"`
	Part        int                  `json:"part"`
	Handler     string               `json:"handler"`
	Scorer      string               `json:"scorer"`
	Place       string               `json:"place"`
	Leash       string               `json:"leash"`
	Distraction training.Num         `json:"distraction"`
	Device      string               `json:"device"`
	Working     training.Num         `json:"workingLevel"`
	Weather     string               `json:"weather"`
	Reward      string               `json:"reward"`
	Source      string               `json:"source"`
	Baseline    bool                 `json:"baseline"`
	Rescores    string               `json:"rescores"`
	Withdrawn   string               `json:"withdrawn"`
	Trial       int                  `json:"trial"`
	Cue         string               `json:"cue"`
	Kind        string               `json:"kind"`
	Signal      string               `json:"signal"`
	Outcome     string               `json:"outcome"`
	Asks        int                  `json:"asks"`
	Did         string               `json:"didInstead"`
	Latency     training.Num         `json:"latencySeconds"`
	Completion  training.Num         `json:"completionSeconds"`
	Waited      training.Num         `json:"waitedSeconds"`
	Begun       training.Num         `json:"begunSeconds"`
	Target      training.Num         `json:"targetSeconds"`
	Held        training.Num         `json:"heldSeconds"`
	Walked      training.Num         `json:"walkedSeconds"`
	Breaks      int                  `json:"breaks"`
	Distance    training.Num         `json:"distanceMetres"`
	Tally       *jsonTally           `json:"tally"`
	Clock       training.Num         `json:"clockSeconds"`
	Prompts     []string             `json:"prompts"`
	Corrections []jsonTrialCorrected `json:"corrections"`
	Marks       string               `json:"noteMarks"`
	Line        int                  `json:"noteLine"`
}

type jsonTally struct {
	Yes int `json:"yes"`
	Of  int `json:"of"`
}

type jsonTrialCorrected struct {
	Kind   string       `json:"kind"`
	Level  training.Num `json:"level"`
	Device string       `json:"device"`
	Served bool         `json:"answered"`
}

// TrialsJSONL writes one JSON object a line for each trial, schema
// firstcue.trial/1.
func TrialsJSONL(w io.Writer, sessions []training.Session) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	for _, s := range sessions {
		for i, t := range s.Trials {
			j := jsonTrial{Schema: "firstcue.trial/1", Session: s.ID, Revision: s.Revision, Dog: s.Dog, Start: s.Start.Format(time.RFC3339Nano), Zone: s.Zone, Part: s.Part,
				Handler: s.Handler, Scorer: s.Scorer, Place: s.Place, Leash: string(s.Leash), Distraction: finite(s.Distraction), Device: s.Device, Working: finite(s.WorkingLevel),
				Weather: s.Weather, Reward: s.Reward, Source: string(s.Source), Baseline: s.Baseline, Rescores: s.Rescores, Withdrawn: s.Voided,
				Trial: i + 1, Cue: t.Cue, Kind: string(t.Kind), Signal: string(t.Signal), Outcome: string(t.Outcome), Asks: t.Asks, Did: t.Did,
				Latency: finite(t.Latency), Completion: finite(t.Completion), Waited: finite(t.Waited), Begun: finite(t.Begun), Target: finite(t.Target), Held: finite(t.Held),
				Walked: finite(t.Walked), Breaks: t.Breaks, Distance: finite(t.Distance), Clock: finite(t.At), Prompts: list(t.Prompts), Corrections: []jsonTrialCorrected{}, Marks: t.Marks, Line: t.Line}
			if t.Tally.Of > 0 {
				j.Tally = &jsonTally{t.Tally.Yes, t.Tally.Of}
			}
			for _, k := range t.Corrections {
				j.Corrections = append(j.Corrections, jsonTrialCorrected{string(k.Kind), finite(k.Level), k.Device, k.Served})
			}
			if err := e.Encode(j); err != nil {
				return err
			}
		}
	}
	return nil
}

// VTT writes the trials of a session that were timed as WebVTT chapters (W3C),
// so that a viewer of the video can jump to each. A trial ends where the next
// begins; trials that open at one moment share a chapter. A session without
// timed trials is an error.
func VTT(w io.Writer, s training.Session) error {
	type chapter struct {
		at, end float64
		text    []string
	}
	var list []chapter
	timed := make([]training.Trial, 0, len(s.Trials))
	for _, t := range s.Trials {
		if t.At.Known && t.At.V >= 0 {
			timed = append(timed, t)
		}
	}
	if len(timed) == 0 {
		return fmt.Errorf("the session of %s has no times on a clock: chapters need a timed note", s.Day())
	}
	sort.SliceStable(timed, func(i, j int) bool { return timed[i].At.V < timed[j].At.V })
	for _, t := range timed {
		text := vttText(plain(t.Cue) + ": " + trialWords(t))
		if n := len(list); n > 0 && t.At.V-list[n-1].at < 0.001 {
			list[n-1].text = append(list[n-1].text, text)
			continue
		}
		length := 3.0 // a cue needs a length even where nothing was measured
		for _, m := range []training.Num{t.Held, t.Walked, t.Completion, t.Latency} {
			if m.Known {
				length = max(length, m.V)
			}
		}
		list = append(list, chapter{t.At.V, t.At.V + length, []string{text}})
	}
	var b strings.Builder
	b.WriteString("WEBVTT - " + vttText(sessionTitle(s)) + "\n")
	hours := list[len(list)-1].end >= 3600
	for i, c := range list {
		if i+1 < len(list) {
			c.end = list[i+1].at
		}
		fmt.Fprintf(&b, "\n%d\n%s --> %s\n%s\n", i+1, vttTime(c.at, hours), vttTime(c.end, hours), strings.Join(c.text, "; "))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// vttText escapes the characters that WebVTT gives a meaning; without > no text
// can hold the arrow that ends a cue.
func vttText(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace(s)
}

func vttTime(s float64, hours bool) string {
	ms := int64(s*1000 + 0.5)
	if hours {
		return fmt.Sprintf("%02d:%02d:%02d.%03d", ms/3600000, ms/60000%60, ms/1000%60, ms%1000)
	}
	return fmt.Sprintf("%02d:%02d.%03d", ms/60000, ms/1000%60, ms%1000)
}
