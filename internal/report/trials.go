package report

import (
	"encoding/json"
	"fmt"
	"io"
	"sort"
	"strconv"
	"strings"
	"time"

	"firstcue/internal/say"
	"firstcue/internal/training"
)

// field is one column of the trials file: its name, what it means, its W3C CSVW
// datatype and how it is written.
type field struct {
	name, about, datatype string
	unit                  string
	write                 func(c *csvWriter, s *training.Session, t *training.Trial, position int) string
}

func textField(name, about string, of func(s *training.Session, t *training.Trial) string) field {
	return field{name: name, about: about, datatype: "string",
		write: func(c *csvWriter, s *training.Session, t *training.Trial, _ int) string { return c.text(of(s, t)) }}
}

func numField(name, about, unit string, of func(s *training.Session, t *training.Trial) training.Num) field {
	return field{name: name, about: about, datatype: "number", unit: unit,
		write: func(c *csvWriter, s *training.Session, t *training.Trial, _ int) string { return c.num(of(s, t)) }}
}

// intField writes a whole number; one that says nothing about the trial at hand
// is left empty.
func intField(name, about string, of func(s *training.Session, t *training.Trial) int, applies func(t *training.Trial) bool) field {
	return field{name: name, about: about, datatype: "integer",
		write: func(_ *csvWriter, s *training.Session, t *training.Trial, _ int) string {
			if v := of(s, t); v != 0 || applies == nil || applies(t) {
				return strconv.Itoa(v)
			}
			return ""
		}}
}

type (
	session = training.Session
	trial   = training.Trial
)

// trialFields lists the columns of a trials file with room for so many prompts
// and corrections a trial: one plain value a cell needs a column for each.
func trialFields(prompts, corrections int) []field {
	fields := []field{
		textField("session", "identifier of the session", func(s *session, _ *trial) string { return s.ID }),
		{name: "revision", about: "1 as first logged, higher after corrections of the record; empty before it was stored", datatype: "integer",
			write: func(_ *csvWriter, s *session, _ *trial, _ int) string {
				if s.Revision == 0 {
					return ""
				}
				return strconv.Itoa(s.Revision)
			}},
		textField("dog", "name of the dog", func(s *session, _ *trial) string { return s.Dog }),
		{name: "date", about: "calendar day of the session where it was held; for reading only, start is what counts", datatype: "date",
			write: func(_ *csvWriter, s *session, _ *trial, _ int) string { return s.Day().String() }},
		{name: "start", about: "start of the session, with its offset from UTC", datatype: "datetime",
			write: func(_ *csvWriter, s *session, _ *trial, _ int) string { return s.Start.Format(time.RFC3339Nano) }},
		textField("zone", "IANA time zone of the start, if known", func(s *session, _ *trial) string { return s.Zone }),
		intField("part", "0, or the number of this part where one start covers several places or handlers", func(s *session, _ *trial) int { return s.Part }, nil),
		textField("handler", "who gave the cue", func(s *session, _ *trial) string { return s.Handler }),
		textField("scorer", "who wrote it down, if somebody else", func(s *session, _ *trial) string { return s.Scorer }),
		textField("place", "where", func(s *session, _ *trial) string { return s.Place }),
		textField("leash", "how the dog was kept: leash, long line, drag line or off", func(s *session, _ *trial) string { return string(s.Leash) }),
		numField("distraction", "0 familiar and quiet to 4 this dog's hardest thing; an order, never to be averaged", "", func(s *session, _ *trial) training.Num { return s.Distraction }),
		textField("device", "collar in use", func(s *session, _ *trial) string { return s.Device }),
		numField("workingLevel", "lowest dial level the dog noticed that day; compares with the same device only", "", func(s *session, _ *trial) training.Num { return s.WorkingLevel }),
		textField("weather", "weather", func(s *session, _ *trial) string { return s.Weather }),
		textField("reward", "reward in use", func(s *session, _ *trial) string { return s.Reward }),
		textField("source", "how the record was made: live, video or memory", func(s *session, _ *trial) string { return string(s.Source) }),
		{name: "baseline", about: "true for a session held before any teaching of its cues", datatype: "boolean",
			write: func(_ *csvWriter, s *session, _ *trial, _ int) string { return strconv.FormatBool(s.Baseline) }},
		textField("rescores", "session that this is a second scoring of; adds no trials to any figure", func(s *session, _ *trial) string { return s.Rescores }),
		textField("withdrawn", "why the session was withdrawn; empty when it stands", func(s *session, _ *trial) string { return s.Voided }),
		{name: "trial", about: "position of the trial in its session, 1 first", datatype: "integer",
			write: func(_ *csvWriter, _ *session, _ *trial, position int) string { return strconv.Itoa(position) }},
		textField("cue", "the cue", func(_ *session, t *trial) string { return t.Cue }),
		textField("kind", "response: one answer; hold: a position kept for a time; motion: a position kept while walking", func(_ *session, t *trial) string { return string(t.Kind) }),
		textField("signal", "form of the first ask: voice, hand, whistle, tone, vibration, context, or two joined with +", func(_ *session, t *trial) string { return string(t.Signal) }),
		textField("outcome", "what became of the trial; unscored, early and already stand in no denominator, counted is a tally", func(_ *session, t *trial) string { return string(t.Outcome) }),
		intField("asks", "how often the cue was given", func(_ *session, t *trial) int { return t.Asks }, func(t *trial) bool { return t.Outcome != training.Counted && t.Outcome != training.Early }),
		textField("did", "what the dog did on the first wrong answer; ? when not named", func(_ *session, t *trial) string { return t.Did }),
		numField("latencySeconds", "from the start of the ask that was answered to the start of the response; empty when it was not timed", "second", func(_ *session, t *trial) training.Num { return t.Latency }),
		numField("completionSeconds", "from the start of that ask to the end of the response", "second", func(_ *session, t *trial) training.Num { return t.Completion }),
		numField("waitedSeconds", "how long the first ask stood unanswered: a lower limit of its latency, no latency", "second", func(_ *session, t *trial) training.Num { return t.Waited }),
		numField("begunSeconds", "start of a response to the first ask that was not completed", "second", func(_ *session, t *trial) training.Num { return t.Begun }),
		numField("targetSeconds", "hold: time asked for", "second", func(_ *session, t *trial) training.Num { return t.Target }),
		numField("heldSeconds", "hold: time until it broke or was released", "second", func(_ *session, t *trial) training.Num { return t.Held }),
		numField("walkedSeconds", "motion: time walked", "second", func(_ *session, t *trial) training.Num { return t.Walked }),
		intField("breaks", "hold, motion: breaks of position", func(_ *session, t *trial) int { return t.Breaks }, func(t *trial) bool {
			switch t.Outcome {
			case training.Held, training.Broke, training.Released, training.Walked:
				return true
			}
			return false
		}),
		numField("distanceMetres", "distance between dog and handler", "metre", func(_ *session, t *trial) training.Num { return t.Distance }),
		intField("tallyYes", "tally: trials answered on the first ask", func(_ *session, t *trial) int { return t.Tally.Yes }, func(t *trial) bool { return t.Tally.Of > 0 }),
		intField("tallyOf", "tally: trials this row stands for; empty when it stands for itself", func(_ *session, t *trial) int { return t.Tally.Of }, func(t *trial) bool { return t.Tally.Of > 0 }),
		numField("atSeconds", "timed record: when the trial opened on its clock", "second", func(_ *session, t *trial) training.Num { return t.At }),
	}
	for i := range prompts {
		fields = append(fields, field{name: fmt.Sprintf("prompt%d", i+1), about: "help given", datatype: "string",
			write: func(c *csvWriter, _ *session, t *trial, _ int) string {
				if i >= len(t.Prompts) {
					return ""
				}
				return c.text(t.Prompts[i])
			}})
	}
	for i := range corrections {
		fields = append(fields, correctionFields(i)...)
	}
	return append(fields,
		textField("marks", "the trial in the notation of a session note", func(_ *session, t *trial) string { return t.Marks }),
		intField("noteLine", "line of the note it was written on; 0 = not known", func(_ *session, t *trial) int { return t.Line }, nil))
}

func correctionFields(i int) []field {
	prefix := fmt.Sprintf("correction%d", i+1)
	write := func(of func(c *csvWriter, k training.Correction) string) func(*csvWriter, *session, *trial, int) string {
		return func(c *csvWriter, _ *session, t *trial, _ int) string {
			if i >= len(t.Corrections) {
				return ""
			}
			return of(c, t.Corrections[i])
		}
	}
	return []field{
		{name: prefix + "Kind", about: "correction: leash, verbal or collar; empty = none", datatype: "string",
			write: write(func(c *csvWriter, k training.Correction) string { return c.text(string(k.Kind)) })},
		{name: prefix + "Level", about: "dial level; compares with the same device only", datatype: "number",
			write: write(func(c *csvWriter, k training.Correction) string { return c.num(k.Level) })},
		{name: prefix + "Device", about: "device of the level", datatype: "string",
			write: write(func(c *csvWriter, k training.Correction) string { return c.text(k.Device) })},
		{name: prefix + "Answered", about: "true when the next ask of the trial was answered", datatype: "boolean",
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
// as a formula stands behind an apostrophe, which an import takes away. A
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
	return WriteJSON(w, t)
}

// TrialsGuide writes the column guide of the file that TrialsCSV writes of the
// same sessions with the same options, as W3C CSV-on-the-Web metadata. File is
// the name of the CSV file.
func TrialsGuide(w io.Writer, file string, sessions []training.Session, o CSVOptions) error {
	return guide(w, file, "Trials", "One row for each trial.", trialFields(room(sessions)), o)
}

// jsonTrial is a trial with what its session says of it: the session's own text,
// its list of trials and its remarks are not in it.
type jsonTrial struct {
	Schema    string `json:"schema"`
	SessionID string `json:"session"` // ID of the session
	Number    int    `json:"trial"`   // position in the session, 1 = first
	session
	trial
	ID      *struct{} `json:"id,omitempty"` // what follows is not of a trial: it hides what the session has
	Note    *struct{} `json:"note,omitempty"`
	Trials  *struct{} `json:"trials,omitempty"`
	Remarks *struct{} `json:"remarks,omitempty"`
}

// TrialsJSONL writes one JSON object a line for each trial, schema
// firstcue.trial/1.
func TrialsJSONL(w io.Writer, sessions []training.Session) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	for _, s := range sessions {
		trials := s.Trials
		s.Trials, s.Remarks = nil, nil
		for i, t := range trials {
			if err := e.Encode(withLists(jsonTrial{Schema: "firstcue.trial/1", SessionID: s.ID, Number: i + 1, session: s, trial: t})); err != nil {
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
		text := vttText(say.Plain(t.Cue) + ": " + trialWords(t))
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
