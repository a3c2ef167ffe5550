package sheet

import (
	"strings"
	"unicode"

	"firstcue/internal/training"
)

// Field is what a column may hold. Times are in seconds, distances in metres.
type Field string

// Fields of a session: the same in all its rows.
const (
	Dog         Field = "dog"
	Handler     Field = "handler"
	Scorer      Field = "scorer"
	Start       Field = "start" // day and time in one cell
	Date        Field = "date"  // day, with the time in Time or not known
	Time        Field = "time"
	Place       Field = "place"
	Leash       Field = "leash"
	Distraction Field = "distraction"
	Device      Field = "device"
	Working     Field = "working_level"
	Weather     Field = "weather"
	Reward      Field = "reward"
	Source      Field = "source"
	Baseline    Field = "baseline"
	Session     Field = "session" // anything that is the same in the rows of one session and in no others
	Zone        Field = "zone"    // IANA name of the zone of Start
	Part        Field = "part"    // 0, or the number of the part where one start covers several
	Withdrawn   Field = "withdrawn"
)

// Fields of a trial.
const (
	Cue        Field = "cue"
	Response   Field = "response" // a word, or the notation of a note: "- @9 +1.6"
	Marks      Field = "marks"    // the whole trial in the notation; wins over every other field of the trial
	Signal     Field = "signal"
	Asks       Field = "asks"
	Latency    Field = "latency"
	Completion Field = "completion"
	Did        Field = "did"
	Help       Field = "help"
	Correction Field = "correction" // leash, verbal, collar, or how many
	Level      Field = "level"
	Target     Field = "target"
	Held       Field = "held"
	Walked     Field = "walked"
	Breaks     Field = "breaks"
	Distance   Field = "distance"
	Yes        Field = "yes" // tally: so many of Of
	Of         Field = "of"
	Remark     Field = "remark"
	Incident   Field = "incident"
)

// Fields lists every field in the order of mention, with what it holds.
var Fields = []struct {
	Field Field
	Holds string
}{
	{Dog, "the dog's name"},
	{Handler, "who gave the cue"},
	{Scorer, "who wrote it down, if another"},
	{Start, "day and time: 2026-03-04 09:10"},
	{Date, "the day"},
	{Time, "the time of day the session began"},
	{Place, "where"},
	{Leash, "leash, long line, drag line or off"},
	{Distraction, "0 to 4"},
	{Device, "the collar whose dial the levels are of"},
	{Working, "working level found that day"},
	{Weather, "in words"},
	{Reward, "in words"},
	{Source, "live, video or memory"},
	{Baseline, "yes for a session before any teaching"},
	{Session, "anything that is the same for the rows of one session"},
	{Zone, "IANA zone of the start"},
	{Part, "0, or the number of the part where one start covers several places or handlers"},
	{Withdrawn, "why the session was withdrawn: such rows are left out"},
	{Cue, "the cue"},
	{Response, "yes or no in some word, or a note's marks: - @9 +1.6"},
	{Marks, "the whole trial in a note's marks"},
	{Signal, "voice, hand, whistle, tone, vibration or context"},
	{Asks, "how often the cue was given"},
	{Latency, "seconds to the start of the answer"},
	{Completion, "seconds to its end"},
	{Did, "what the dog did instead"},
	{Help, "lure, gesture, ..."},
	{Correction, "leash, verbal, collar or a number of them"},
	{Level, "level of the correction"},
	{Target, "seconds to be held"},
	{Held, "seconds held"},
	{Walked, "time walked"},
	{Breaks, "position breaks"},
	{Distance, "metres"},
	{Yes, "of a tally: how many on the first ask"},
	{Of, "of a tally: of how many"},
	{Remark, "free text"},
	{Incident, "an incident or a sign of fear, pain or aggression"},
}

func known(f Field) bool {
	for _, x := range Fields {
		if x.Field == f {
			return true
		}
	}
	return false
}

// headings lists what else the columns are called in kennels' spreadsheets.
// Common practice, no source. Words with more than one meaning in the trade
// ("name", "type", "score", "time (s)") are left out: they are asked about.
var headings = map[string]Field{
	"dog name": Dog, "dogs name": Dog, "dog's name": Dog,
	"trainer": Handler, "handler name": Handler, "handled by": Handler,
	"scored by": Scorer, "recorded by": Scorer, "observer": Scorer,
	"start time": Time, "time of day": Time, "started": Start, "date time": Start, "datetime": Start,
	"session start": Start,
	"day":           Date, "session date": Date,
	"location": Place, "where": Place, "venue": Place,
	"lead": Leash, "line": Leash, "leash state": Leash,
	"distraction level": Distraction, "distractions": Distraction,
	"collar": Device, "remote": Device, "working level": Working,
	"session id": Session, "session no": Session, "session number": Session,
	"command": Cue, "cue word": Cue, "exercise": Cue, "behaviour": Cue, "behavior": Cue,
	"result": Response, "answer": Response, "outcome": Response, "success": Response, "correct": Response,
	"notation": Marks, "note marks": Marks, "cue type": Signal,
	"number of asks": Asks, "times asked": Asks, "cues given": Asks,
	"latency s": Latency, "latency sec": Latency, "latency seconds": Latency, "seconds": Latency,
	"response time s": Latency,
	"completion s":    Completion, "completion seconds": Completion,
	"did instead": Did, "prompt": Help, "prompts": Help, "prompt 1": Help,
	"correction 1 kind": Correction, "correction 1 level": Level, "tally yes": Yes, "tally of": Of,
	"corrected": Correction, "corrections": Correction, "correction level": Level, "stim level": Level,
	"target s": Target, "target seconds": Target, "held s": Held, "held seconds": Held, "hold s": Held,
	"walked s": Walked, "walked seconds": Walked, "position breaks": Breaks,
	"distance m": Distance, "distance metres": Distance, "distance meters": Distance,
	"out of": Of, "trials": Of, "on first ask": Yes,
	"notes": Remark, "note": Remark, "comment": Remark, "comments": Remark, "remarks": Remark,
	"incidents": Incident,
}

// heading folds a column heading: case, underscores, punctuation and brackets
// do not count, and workingLevel is two words.
func heading(s string) string {
	var b strings.Builder
	last := ' '
	for _, r := range s {
		switch {
		case !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '\'':
			b.WriteByte(' ')
		case unicode.IsLower(last) && (unicode.IsUpper(r) || unicode.IsDigit(r)), unicode.IsDigit(last) && unicode.IsUpper(r):
			b.WriteByte(' ')
			b.WriteRune(r)
		default:
			b.WriteRune(r)
		}
		last = r
	}
	return training.Key(b.String())
}

// guess is the field that a heading stands for, if any.
func guess(h string) (Field, bool) {
	if f, ok := headings[heading(h)]; ok {
		return f, true
	}
	f := Field(strings.ReplaceAll(heading(h), " ", "_"))
	return f, known(f)
}
