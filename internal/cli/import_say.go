package cli

import (
	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/sheet"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

// show prints what would be stored of the first rows, and what to look at.
func (im *importing) show() error {
	a, res := im.a, im.res
	todo := res.Sessions - len(im.skip)
	if im.o.format == "text" && !a.quiet && len(im.first) > 0 {
		first, more := firstTrials(im.first, 12)
		if err := report.DryRunText(a.env.Stdout, first, a.options()); err != nil {
			return writeFailed(err)
		}
		if more || todo > len(first) {
			a.printf("  ... these are the first of %s\n", plural(todo, "session"))
		}
		a.printf("\n")
	}
	a.say("%s, %s read from %s", plural(res.Sessions, "session"), plural(res.Trials, "trial"),
		plural(res.Rows, "row"))
	if res.LeftOut > 0 {
		a.say("left out: %s of withdrawn sessions", plural(res.LeftOut, "row"))
	}
	if im.there > 0 {
		a.say("stored already: %s", plural(im.there, "session"))
	}
	n := len(im.suspects)
	for _, s := range im.suspects[:min(n, 10)] {
		a.warn("%s", s)
	}
	if n > 10 {
		a.warn("and %d more", n-10)
	}
	if n > 0 {
		a.warn("%s left out: --again adds them beside those stored, --amend puts them in their place",
			plural(n, "session"))
	}
	for _, w := range res.Warnings {
		a.warn("%s", w)
	}
	n = len(res.New)
	for _, x := range res.New[:min(n, 20)] {
		a.say("new: %s", nameWords(x))
	}
	if n > 20 {
		a.say("and %d names more", n-20)
	}
	im.rejects.say()
	return nil
}

// firstTrials cuts sessions to a number of trials in all.
func firstTrials(list []training.Session, n int) (out []training.Session, more bool) {
	for _, s := range list {
		if n <= 0 {
			return out, true
		}
		if len(s.Trials) > n {
			s.Trials, more = s.Trials[:n], true
		}
		n -= len(s.Trials)
		out = append(out, s)
	}
	return out, more
}

// stop ends an import that stores nothing.
func (im *importing) stop(bad bool, kept string) error {
	if err := im.json(store.BulkResult{}); err != nil {
		return err
	}
	if !bad {
		im.a.say("dry run: nothing was stored")
		if im.res.Rejected == 0 {
			return nil
		}
	}
	hint := "put them right, or --skip-bad stores the others"
	if kept != "" {
		hint = "they are in " + kept + " with the reasons; " + hint
	}
	return usagef("%s of %d can't be read, nothing was stored", plural(im.res.Rejected, "row"),
		im.res.Rows).try("%s", hint)
}

// stored says what the import did.
func (im *importing) stored(done store.BulkResult, kept string, before,
	after map[string]analysis.Assessment) error {
	im.a.printf("stored: %s, %s\n", plural(done.Stored, "session"), plural(done.Trials, "trial"))
	if done.Amended > 0 {
		im.a.printf("amended (the earlier form stays in its history): %s\n", plural(done.Amended, "session"))
	}
	if done.SecondScore > 0 {
		im.a.printf("second scorings, adding no trials: %s\n", plural(done.SecondScore, "session"))
	}
	if kept != "" {
		im.a.printf("not stored: %s, in %s with the reasons\n", plural(im.res.Rejected, "row"), kept)
	}
	var rows [][]string
	for _, d := range im.dogs {
		for _, cue := range im.cues[d] {
			rows = append(rows, changeRow(d, cue, before[d], after[d]))
		}
	}
	if len(rows) > 0 {
		im.a.printf("\n")
		if err := im.a.grid(changeHeaders, rows, nil); err != nil {
			return writeFailed(err)
		}
	}
	im.a.say("take it back: firstcue undo")
	return nil
}

func (im *importing) json(b store.BulkResult) error {
	if im.o.format != "json" {
		return nil
	}
	return writeFailed(im.a.json(importJSON{schema("import"), im.o.dryRun, im.file.name, im.res.Rows,
		im.res.Sessions, im.res.Trials, b.Stored, b.Amended,
		b.SecondScore, im.there + b.AlreadyStored, im.suspects, im.res.Rejected, im.rejects.first,
		namesJSON(im.res.New)}))
}

// say shows the reasons, each once with the lines it stands for.
func (x *rejects) say() {
	for _, r := range x.reasons {
		more := ""
		if r.n > 1 {
			more = " and " + plural(r.n-1, "row") + " more"
		}
		x.im.a.warn("%s, line %d%s: %v", x.im.file.name, r.first.Line, more, r.first.Reason)
	}
	if x.others > 0 {
		x.im.a.warn("and %s for other reasons", plural(x.others, "row"))
	}
}

// sameReason reports that two rows are refused for one reason.
func sameReason(a, b *sheet.Problem) bool {
	return a.Column == b.Column && a.Found == b.Found && a.Message == b.Message
}
