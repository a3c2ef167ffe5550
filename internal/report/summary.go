package report

import (
	"io"
	"strconv"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// summaryField is a column of the summary: its name, as in the JSON, what it means, and
// its value for a cue.
type summaryField struct {
	field
	of func(c *csvWriter, a *analysis.Assessment, q *analysis.CueAssessment) string
}

// summaryFields is the one list from which the header, the rows and the guide come.
func summaryFields() []summaryField {
	type cue = analysis.CueAssessment
	text := func(name, about string, of func(q *cue) string) summaryField {
		return summaryField{field{name: name, about: about, datatype: "string"}, func(c *csvWriter, _ *analysis.Assessment, q *cue) string { return c.text(of(q)) }}
	}
	whole := func(name, about string, of func(q *cue) int) summaryField {
		return summaryField{field{name: name, about: about, datatype: "integer"}, func(_ *csvWriter, _ *analysis.Assessment, q *cue) string { return strconv.Itoa(of(q)) }}
	}
	num := func(name, about, unit string, of func(q *cue) training.Num) summaryField {
		return summaryField{field{name: name, about: about, datatype: "number", unit: unit}, func(c *csvWriter, _ *analysis.Assessment, q *cue) string { return c.num(of(q)) }}
	}
	day := func(name, about string, of func(q *cue) training.Day) summaryField {
		return summaryField{field{name: name, about: about, datatype: "date"}, func(_ *csvWriter, _ *analysis.Assessment, q *cue) string { return of(q).String() }}
	}
	head := []summaryField{
		{field{name: "dog", about: "name of the dog", datatype: "string"}, func(c *csvWriter, a *analysis.Assessment, _ *cue) string { return c.text(a.Name) }},
		{field{name: "day", about: "day of the judgement", datatype: "date"}, func(_ *csvWriter, a *analysis.Assessment, _ *cue) string { return a.Day.String() }},
	}
	rest := []summaryField{
		text("cue", "name of the cue", func(q *cue) string { return q.Cue }),
		text("kind", "response, hold or motion", func(q *cue) string { return string(q.Kind) }),
		text("agreed", "true or false; empty when no goal is agreed with the owner", agreedWord),
		text("verdict", "ready, not proven, not ready or on hold", func(q *cue) string { return string(q.Verdict) }),
		text("readyOnLeash", "least control on which the cue was shown", func(q *cue) string { return string(q.ReadyOn) }),
		num("now", "present chance that the first ask is answered, 0 to 1; motion: breaks a minute", "", func(q *cue) training.Num { return q.Now.Now }),
		num("low80", "lower end of its 80 % interval", "", func(q *cue) training.Num { return q.Now.Low80 }),
		num("high80", "upper end of its 80 % interval", "", func(q *cue) training.Num { return q.Now.High80 }),
		num("low95", "lower end of its 95 % interval", "", func(q *cue) training.Num { return q.Now.Low95 }),
		num("high95", "upper end of its 95 % interval", "", func(q *cue) training.Num { return q.Now.High95 }),
		num("bar", "what must be passed", "", func(q *cue) training.Num { return q.Now.Bar }),
		num("sure", "probability that it is passed, 0 to 1", "", func(q *cue) training.Num { return q.Now.Sure }),
		whole("answered", "first asks answered, whole stay", func(q *cue) int { return q.Answered }),
		whole("asks", "first asks that count, whole stay", func(q *cue) int { return q.Asks }),
		whole("sessions", "sessions", func(q *cue) int { return q.Tally.Sessions }),
		whole("days", "days", func(q *cue) int { return q.Days }),
		num("rate", "answered of asks, 0 to 1", "", func(q *cue) training.Num { return q.Share.Rate }),
		num("low", "lower end of its 95 % interval, asks of one session taken as alike", "", func(q *cue) training.Num { return q.Share.Low }),
		num("high", "upper end of it", "", func(q *cue) training.Num { return q.Share.High }),
		num("medianSeconds", "median time to the start of the response (Kaplan-Meier)", "second", latencyOf(func(l *analysis.Latency) training.Num { return l.Median })),
		num("lowSeconds", "lower end of its 95 % interval", "second", latencyOf(func(l *analysis.Latency) training.Num { return l.Low })),
		num("highSeconds", "upper end; empty when not reached", "second", latencyOf(func(l *analysis.Latency) training.Num { return l.High })),
		num("targetSeconds", "hold: time to be held", "second", holdOf(func(h *analysis.Hold) training.Num { return h.Target })),
		num("chance", "hold: chance of keeping it, 0 to 1 (Kaplan-Meier)", "", holdOf(func(h *analysis.Hold) training.Num { return h.Chance })),
		num("longestSeconds", "hold: longest", "second", holdOf(func(h *analysis.Hold) training.Num { return h.Longest })),
		whole("breaks", "motion: position breaks", func(q *cue) int { return q.Tally.Breaks }),
		num("minutes", "motion: minutes walked", "minute", func(q *cue) training.Num { return training.Known(q.Minutes) }),
		whole("corrections", "corrections", func(q *cue) int { return q.Corrections.Count }),
		num("correctionsNow", "corrections lately, per ten asks; motion: per minute", "", func(q *cue) training.Num { return q.Corrections.Now }),
		text("correctionsTrend", "rising, falling, no trend, not judged", func(q *cue) string { return string(q.Corrections.Trend.Direction) }),
		whole("people", "people who asked it", func(q *cue) int { return len(q.People) }),
		whole("places", "places where it was asked", func(q *cue) int { return len(q.Places) }),
		text("ownerConfirmed", "true when the owner's own asks prove it", func(q *cue) string { return strconv.FormatBool(q.Owner.Confirmed) }),
		whole("ownerAnswered", "the owner's first asks answered", func(q *cue) int { return q.Owner.Answered }),
		whole("ownerAsks", "the owner's first asks", func(q *cue) int { return q.Owner.Asks }),
		day("firstDay", "first day asked", func(q *cue) training.Day { return q.First }),
		day("lastDay", "last day asked", func(q *cue) training.Day { return q.Last }),
	}
	return append(head, rest...)
}

func agreedWord(q *analysis.CueAssessment) string {
	if q.Agreed == nil {
		return ""
	}
	return strconv.FormatBool(*q.Agreed)
}

func latencyOf(of func(*analysis.Latency) training.Num) func(*analysis.CueAssessment) training.Num {
	return func(q *analysis.CueAssessment) training.Num {
		if q.Latency == nil {
			return training.Num{}
		}
		return of(q.Latency)
	}
}

func holdOf(of func(*analysis.Hold) training.Num) func(*analysis.CueAssessment) training.Num {
	return func(q *analysis.CueAssessment) training.Num {
		if q.Hold == nil {
			return training.Num{}
		}
		return of(q.Hold)
	}
}

// SummaryCSV writes a row a cue, by the same rules as TrialsCSV.
func SummaryCSV(w io.Writer, a analysis.Assessment, o CSVOptions) error {
	fields := summaryFields()
	c := newCSV(w, o)
	row := make([]string, len(fields))
	for i, f := range fields {
		row[i] = f.name
	}
	c.row(row...)
	for i := range a.Cues {
		for j, f := range fields {
			row[j] = f.of(c, &a, &a.Cues[i])
		}
		c.row(row...)
	}
	return c.close()
}

// SummaryGuide writes the column guide of SummaryCSV as W3C CSVW metadata.
func SummaryGuide(w io.Writer, file string, o CSVOptions) error {
	var fields []field
	for _, f := range summaryFields() {
		fields = append(fields, f.field)
	}
	return guide(w, file, "Summary by cue", "One row for each cue.", fields, o)
}
