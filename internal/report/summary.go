package report

import (
	"io"
	"strconv"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

type summaryField struct {
	field
	of func(c *csvWriter, a *analysis.Assessment, q *analysis.CueAssessment) string
}

func summaryFields() []summaryField {
	type cue = analysis.CueAssessment
	text := func(name, about string, of func(a *analysis.Assessment, q *cue) string) summaryField {
		return summaryField{field{name: name, about: about, datatype: "string"}, func(c *csvWriter, a *analysis.Assessment, q *cue) string { return c.text(of(a, q)) }}
	}
	whole := func(name, about string, of func(q *cue) (int, bool)) summaryField {
		return summaryField{field{name: name, about: about, datatype: "integer"}, func(_ *csvWriter, _ *analysis.Assessment, q *cue) string {
			if n, ok := of(q); ok {
				return strconv.Itoa(n)
			}
			return ""
		}}
	}
	num := func(name, about, unit string, of func(q *cue) training.Num) summaryField {
		return summaryField{field{name: name, about: about, datatype: "number", unit: unit}, func(c *csvWriter, _ *analysis.Assessment, q *cue) string { return c.num(of(q)) }}
	}
	first := func(of func(f *analysis.FirstCue) training.Num) func(q *cue) training.Num {
		return func(q *cue) training.Num {
			if q.FirstCue == nil {
				return training.Num{}
			}
			return of(q.FirstCue)
		}
	}
	latency := func(of func(l *analysis.Latency) training.Num) func(q *cue) training.Num {
		return func(q *cue) training.Num {
			if q.Latency == nil {
				return training.Num{}
			}
			return of(q.Latency)
		}
	}
	hold := func(of func(h *analysis.Hold) training.Num) func(q *cue) training.Num {
		return func(q *cue) training.Num {
			if q.Hold == nil {
				return training.Num{}
			}
			return of(q.Hold)
		}
	}
	breaks := func(of func(b *analysis.Breaks) training.Num) func(q *cue) training.Num {
		return func(q *cue) training.Num {
			if q.Breaks == nil {
				return training.Num{}
			}
			return of(q.Breaks)
		}
	}
	minutes := func(kind training.Kind) func(q *cue) training.Num {
		return func(q *cue) training.Num {
			if q.Breaks == nil || q.Kind != kind {
				return training.Num{}
			}
			return training.Known(q.Breaks.Minutes)
		}
	}
	count := func(kind analysis.ContextKind) func(q *cue) (int, bool) {
		return func(q *cue) (int, bool) {
			n := 0
			for _, x := range q.Contexts {
				if x.Kind == kind && tried(x) {
					n++
				}
			}
			return n, true
		}
	}
	return []summaryField{
		text("dog", "name of the dog", func(a *analysis.Assessment, _ *cue) string { return a.Dog.Name }),
		{field{name: "as_of", about: "day of the judgement", datatype: "date"}, func(_ *csvWriter, a *analysis.Assessment, _ *cue) string { return a.AsOf.String() }},
		text("cue", "the cue", func(_ *analysis.Assessment, q *cue) string { return q.Cue }),
		text("kind", "response, hold or motion", func(_ *analysis.Assessment, q *cue) string { return string(q.Kind) }),
		{field{name: "agreed", about: "true for a cue agreed with the owner", datatype: "boolean"}, func(_ *csvWriter, _ *analysis.Assessment, q *cue) string { return strconv.FormatBool(q.Agreed) }},
		text("verdict", "ready, not shown (too little evidence), not ready, or on hold", func(_ *analysis.Assessment, q *cue) string { return string(q.Verdict) }),
		text("reason", "the first thing in the way, or why it is ready", func(_ *analysis.Assessment, q *cue) string { return q.Reason }),
		{field{name: "owner_confirmed", about: "true when the owner's own trials met their bar", datatype: "boolean"}, func(_ *csvWriter, _ *analysis.Assessment, q *cue) string {
			return strconv.FormatBool(q.Owner.Confirmed)
		}},
		whole("owner_first_yes", "owner's trials answered on the first ask; empty for a motion", func(q *cue) (int, bool) { return q.Owner.Yes, q.Kind != training.Motion }),
		whole("owner_trials", "owner's trials; empty for a motion", func(q *cue) (int, bool) { return q.Owner.Of, q.Kind != training.Motion }),
		whole("sessions", "sessions", func(q *cue) (int, bool) { return q.Sessions, true }),
		whole("days", "days", func(q *cue) (int, bool) { return q.Days, true }),
		whole("trials", "scored trials", func(q *cue) (int, bool) { return q.Trials, true }),
		whole("first_yes", "trials answered on the first ask under the rule of the report", func(q *cue) (int, bool) {
			if q.FirstCue == nil {
				return 0, false
			}
			return q.FirstCue.Yes, true
		}),
		whole("first_of", "trials that count for it", func(q *cue) (int, bool) {
			if q.FirstCue == nil {
				return 0, false
			}
			return q.FirstCue.Of, true
		}),
		num("first_rate", "share answered on the first ask, 0 to 1", "", first(func(f *analysis.FirstCue) training.Num { return f.Rate })),
		num("first_low", "lower end of its 95 % interval, trials of one session taken as alike", "", first(func(f *analysis.FirstCue) training.Num { return f.Low })),
		num("first_high", "upper end", "", first(func(f *analysis.FirstCue) training.Num { return f.High })),
		num("current_rate", "the same share now: older sessions count less", "", first(func(f *analysis.FirstCue) training.Num { return f.Current.Rate })),
		num("current_low", "lower end of its 95 % interval", "", first(func(f *analysis.FirstCue) training.Num { return f.Current.Low })),
		num("current_high", "upper end", "", first(func(f *analysis.FirstCue) training.Num { return f.Current.High })),
		whole("latency_answered", "timed answers", func(q *cue) (int, bool) {
			if q.Latency == nil {
				return 0, false
			}
			return q.Latency.Seen, true
		}),
		whole("latency_censored", "asks that ended without an answer", func(q *cue) (int, bool) {
			if q.Latency == nil {
				return 0, false
			}
			return q.Latency.Censored, true
		}),
		num("latency_median_s", "median time to the start of the response (Kaplan-Meier); empty when not reached", "second", latency(func(l *analysis.Latency) training.Num { return l.Median })),
		num("latency_low_s", "lower end of its 95 % interval", "second", latency(func(l *analysis.Latency) training.Num { return l.Low })),
		num("latency_high_s", "upper end; empty when not reached", "second", latency(func(l *analysis.Latency) training.Num { return l.High })),
		num("hold_target_s", "time to be held", "second", hold(func(h *analysis.Hold) training.Num { return h.Target })),
		num("hold_chance", "chance of holding it, 0 to 1 (Kaplan-Meier)", "", hold(func(h *analysis.Hold) training.Num { return h.Chance })),
		num("hold_chance_low", "lower end of its 95 % interval", "", hold(func(h *analysis.Hold) training.Num { return h.ChanceLow })),
		num("hold_chance_high", "upper end", "", hold(func(h *analysis.Hold) training.Num { return h.ChanceHigh })),
		num("hold_longest_s", "longest hold", "second", hold(func(h *analysis.Hold) training.Num { return h.Longest })),
		whole("breaks", "breaks of position while walking, or of a hold", func(q *cue) (int, bool) {
			if q.Breaks == nil {
				return 0, false
			}
			return q.Breaks.Count, true
		}),
		num("minutes_walked", "time walked", "minute", say.Minutes(training.Motion)),
		num("minutes_held", "time that holds were watched, until they broke or were released", "minute", say.Minutes(training.Holding)),
		num("breaks_per_minute", "breaks a minute", "", breaks(func(b *analysis.Breaks) training.Num { return b.PerMinute })),
		num("breaks_low", "lower end of its exact 95 % interval", "", breaks(func(b *analysis.Breaks) training.Num { return b.Low })),
		num("breaks_high", "upper end", "", breaks(func(b *analysis.Breaks) training.Num { return b.High })),
		whole("corrections", "corrections", func(q *cue) (int, bool) { return q.Corrections.Count, true }),
		whole("trials_corrected", "trials with a correction", func(q *cue) (int, bool) { return q.Corrections.Corrected, true }),
		num("corrections_per_ten", "corrections for every ten trials", "", func(q *cue) training.Num { return q.Corrections.PerTen }),
		num("corrections_per_ten_now", "the same now: older sessions count less", "", func(q *cue) training.Num { return q.Corrections.PerTenNow }),
		text("corrections_trend", "falling, rising, no trend shown; empty when there are too few sessions to say", func(_ *analysis.Assessment, q *cue) string { return q.Corrections.Trend.Direction }),
		whole("people", "people who asked it", count(analysis.ByHandler)),
		whole("places", "places where it was asked", count(analysis.ByPlace)),
		{field{name: "first_day", about: "first day with trials", datatype: "date"}, func(_ *csvWriter, _ *analysis.Assessment, q *cue) string { return q.First.String() }},
		{field{name: "last_day", about: "last day with trials", datatype: "date"}, func(_ *csvWriter, _ *analysis.Assessment, q *cue) string { return q.LastDay.String() }},
		whole("owner_lessons", "lessons that the owner's figure comes from", func(q *cue) (int, bool) { return q.Owner.Sessions, true }),
		whole("owner_breaks", "motion: breaks of position while the owner walked", func(q *cue) (int, bool) {
			if q.Owner.Breaks == nil {
				return 0, false
			}
			return q.Owner.Breaks.Count, true
		}),
		num("owner_minutes_walked", "motion: time the owner walked", "minute", func(q *cue) training.Num {
			if q.Owner.Breaks == nil {
				return training.Num{}
			}
			return training.Known(q.Owner.Breaks.Minutes)
		}),
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
