package note

import (
	"strings"

	"firstcue/internal/training"
)

func (p *parser) hasTrials() bool  { return len(p.trials) > 0 }
func (p *parser) hasRemarks() bool { return len(p.remarks) > 0 }

// begin starts a session with line no.
func (p *parser) begin(no int) {
	p.first = max(no, 1)
	p.own = map[string]bool{}
	p.trials, p.remarks, p.asked, p.held = nil, nil, false, map[string]bool{}
	p.wallClock = false
}

// finish closes the session that began with begin, up to the line before the
// one that was read last.
func (p *parser) finish() {
	p.closeTimed()
	p.closePending()
	if !p.hasTrials() && !p.hasRemarks() && !p.ctx.cared() {
		return
	}
	end := len(p.lines)
	if p.at > 0 {
		end = p.at - 1
	}
	p.complete(newLine(p.first, p.lines[p.first-1]), 0, 0)
	c := p.ctx
	s := training.Session{
		Dog: c.dog.Name, Handler: c.handler, Scorer: c.scorer, Start: c.start.Time, Zone: c.start.Zone,
		Place: c.place, Leash: c.leash, Distraction: c.distraction, Device: c.device, WorkingLevel: c.level,
		Weather: c.weather, Reward: c.reward, Source: c.source, Baseline: c.baseline, Remarks: p.remarks,
		Worn: c.worn, Skin: c.skin, Links: c.links, OwnerRepeated: c.repeated, OwnerLate: c.late,
		Note: strings.Join(p.lines[p.first-1:end], "\n"),
	}
	if s.Scorer == s.Handler {
		s.Scorer = ""
	}
	if s.Source == "" {
		s.Source = training.Memory
	}
	for _, t := range p.trials {
		s.Trials = append(s.Trials, t.out)
		for _, k := range t.out.Corrections {
			if k.Device != "" {
				s.Device = k.Device
			}
		}
	}
	if s.WorkingLevel.Known {
		s.Device = p.deviceOf(c)
	}
	id := s.Dog + "\x00" + s.Start.UTC().String()
	s.Part = p.parts[id]
	if c.part > 0 {
		s.Part = c.part - 1
	}
	p.parts[id] = max(p.parts[id], s.Part+1)
	c.part = s.Part + 1
	s.Carried = c.lines(p.own)
	p.res.Sessions = append(p.res.Sessions, s)
}

// complete reports, once for a session, what it lacks.
func (p *parser) complete(l line, from, to int) {
	if p.asked {
		return
	}
	p.asked = true
	for _, k := range []string{"dog", "handler", "start", "place"} {
		if p.ctx.value(k) != "" || p.failed[k] {
			continue
		}
		c := code("missing-" + k)
		if k == "start" && len(p.res.Sessions) > 0 {
			c = "next-start"
		}
		pr := say(c)
		pr.Want = p.ask(k, "add a line above: "+keyExample(k))
		p.report(pr, l, from, to)
	}
	if c := p.ctx; c.level.Known {
		p.checkLevel(c, c.level.V, c.levelLine, c.levelFrom, c.levelTo)
	}
	var open []string
	if p.ctx.leash == "" && !p.failed["leash"] {
		open = append(open, "leash")
	}
	if !p.ctx.distraction.Known && !p.failed["distraction"] {
		open = append(open, "distraction")
	}
	if len(open) > 0 {
		var each []string
		for _, k := range open {
			each = append(each, p.ask(k, k))
		}
		want := "add a line above: leash: off; distraction: 2"
		if p.o.Ask != nil {
			want = strings.Join(each, ", ")
		}
		pr := say("unsaid", "what", strings.Join(open, " and "))
		pr.Want = want
		p.warning(pr, l, from, to)
	}
	if c := p.ctx; !c.start.Time.IsZero() && len(c.dog.Boardings) > 0 {
		day := training.DayOf(c.start.Time)
		if _, ok := c.dog.Boarding(day); !ok {
			p.warn(l, from, to, "not-arrived", "dog", c.dog.Name, "day", day.String())
		}
	}
}

// ask is what to write when a session lacks a key.
func (p *parser) ask(key, plain string) string {
	if p.o.Ask != nil {
		return p.o.Ask(key)
	}
	return plain
}
