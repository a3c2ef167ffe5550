package note

import (
	"time"

	"firstcue/internal/training"
)

// checkLevel reports every reason why a collar level cannot be right.
func (p *parser) checkLevel(c context, v float64, l line, from, to int) {
	if c.dog.RewardOnly {
		p.problem(l, from, to, "no-collar-level", "dog", c.dog.Name)
		return
	}
	if v == 0 {
		p.problem(l, from, to, "level-zero")
		return
	}
	p.checkCollar(c, l, from, to)
	dev := p.deviceOf(c)
	if dev == "" {
		if !p.failed["device"] {
			p.problem(l, from, to, "level-device")
		}
		return
	}
	if d, ok := p.k.Device(dev); ok && (d.Lowest.Known && v < d.Lowest.V || d.Highest.Known && v > d.Highest.V) {
		p.problem(l, from, to, "dial", "device", d.Name, "n", number(v), "dial", dial(d))
	}
}

// checkCollar reports why the dog cannot have been corrected by its collar.
func (p *parser) checkCollar(c context, l line, from, to int) {
	name := c.dog.Name
	if c.dog.RewardOnly {
		p.problem(l, from, to, "no-collar", "dog", name)
		return
	}
	if c.start.Time.IsZero() {
		return
	}
	day := training.DayOf(c.start.Time)
	if c.dog.Born != 0 && day < training.DayOf(c.dog.Born.Time(time.UTC).AddDate(0, 6, 0)) {
		p.problem(l, from, to, "too-young", "dog", name, "day", day.String())
	}
	for _, h := range c.dog.Holds {
		if h.ForbidsCollar(day) {
			p.problem(l, from, to, "collar-hold", "dog", name, "day", day.String(), "hold", holdText(h))
		}
	}
}

// deviceFor is the device of a correction, "" for one by leash or voice.
func (p *parser) deviceFor(c training.Correction) string {
	switch c.Kind {
	case training.ByCollar, training.ByTone, training.ByVibration:
		return p.deviceOf(p.ctx)
	}
	return ""
}

func dial(d training.Device) string {
	switch {
	case d.Lowest.Known && d.Highest.Known:
		return "from " + number(d.Lowest.V) + " to " + number(d.Highest.V)
	case d.Lowest.Known:
		return "from " + number(d.Lowest.V)
	}
	return "to " + number(d.Highest.V)
}

// holdText names a vet hold: reason and dates.
func holdText(h training.VetHold) string {
	s := "from " + h.From.String()
	if h.To != 0 {
		s += " to " + h.To.String()
	} else {
		s += ", still open"
	}
	if h.Reason != "" {
		s = h.Reason + " (" + s + ")"
	}
	return s
}
