package report

import (
	"fmt"
	"io"
	"strings"
	"time"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

type lessonPage struct {
	ownerHead
	Owner, Lead, NoPractice, Note, Needs string
	Rows                                 []lessonRow
}

type lessonRow struct {
	Word, Where string
	Boxes       []int
}

// lessonAsks is how often each word is asked in a lesson.
const lessonAsks = 6

// Lesson writes the sheet for a transfer lesson: what to ask where, boxes to tick, the
// owner's usual mistakes to watch for, and the note to type back.
func Lesson(w io.Writer, a analysis.Assessment, r training.Record, o OwnerOptions) error {
	p := lessonPage{ownerHead: headOf(a, o, say.Plain(a.Name)+": lesson sheet"), Owner: ownerOf(a), NoPractice: stopped(a)}
	p.Sub = lessonSub(a)
	p.Lead = p.Owner + " asks, the trainer writes."
	if a.Main != "" {
		p.Lead += " " + say.Plain(a.Main) + " is out of sight."
	}
	p.Lead += " Line on. Stop after a good one."
	places := lessonPlaces(a)
	for i, place := range places {
		for _, c := range agreedCues(a) {
			row := lessonRow{Word: say.Plain(c.Cue), Where: say.Plain(place)}
			if i > 0 {
				row.Where += ", only if it went well before"
			}
			for n := range lessonAsks {
				row.Boxes = append(row.Boxes, n+1)
			}
			p.Rows = append(p.Rows, row)
		}
	}
	p.Note = lessonNote(a, places)
	p.Needs = lessonNeeds(a)
	return ownerTemplates().ExecuteTemplate(w, "lesson", p)
}

func lessonSub(a analysis.Assessment) string {
	o := a.Owner
	if o.Lessons == 0 {
		return fmt.Sprintf("Lesson 1 of %d.", o.LessonsNeeded)
	}
	s := fmt.Sprintf("Lesson %d. So far, last on %s: ", o.Lessons+1, say.Weekday(o.Last))
	var parts []string
	for _, c := range agreedCues(a) {
		if c.Owner.Asks > 0 {
			parts = append(parts, fmt.Sprintf("%s %d of %d", say.Plain(c.Cue), c.Owner.Answered, c.Owner.Asks))
		}
	}
	return s + strings.Join(parts, ", ") + "."
}

// lessonPlaces are two: where the dog does best here, then one away.
func lessonPlaces(a analysis.Assessment) []string {
	var out []string
	for _, off := range []bool{false, true} {
		for _, p := range a.Places {
			if p.OffProperty == off {
				out = append(out, p.Name)
				break
			}
		}
	}
	if len(out) == 0 {
		return []string{"a quiet place"}
	}
	return out
}

func lessonNote(a analysis.Assessment, places []string) string {
	owner := "OWNER"
	if len(a.Owner.Names) > 0 {
		owner = a.Owner.Names[0]
	}
	var b strings.Builder
	fmt.Fprintf(&b, "dog: %s; handler: %s\nstart: %d-__-__ __:__; place: %s; leash: long line; distraction: 1\n", say.Plain(a.Name), say.Plain(owner), a.Day.Time(time.UTC).Year(), say.Plain(places[0]))
	for _, c := range agreedCues(a) {
		switch c.Kind {
		case training.Motion:
			fmt.Fprintf(&b, "%s _:__ _-\n", say.Plain(c.Cue))
		case training.Holding:
			fmt.Fprintf(&b, "%s 0:30 +, +, -\n", say.Plain(c.Cue))
		default:
			fmt.Fprintf(&b, "%s +, +, -, +, +, +\n", say.Plain(c.Cue))
		}
	}
	b.WriteString("owner: repeated 0, late 0")
	return b.String()
}

func lessonNeeds(a analysis.Assessment) string {
	var parts []string
	for _, c := range agreedCues(a) {
		if c.Owner.Change != nil && c.Owner.Change.CleanAsks.Known {
			parts = append(parts, say.Cues(int(c.Owner.Change.CleanAsks.V), c.Cue))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "Proven with " + ownerOf(a) + " after at least " + say.List(parts) + ", none missed."
}
