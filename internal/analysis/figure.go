package analysis

import (
	"firstcue/internal/model"
	"firstcue/internal/training"
)

// figureOf is what a filter says of a target now.
func figureOf(filter *model.Filter, target model.Target) Figure {
	g := shortFigure(filter, target)
	g.Low95, g.High95 = interval(filter, target, .95)
	return g
}

// shortFigure leaves the 95 % interval out.
func shortFigure(filter *model.Filter, target model.Target) Figure {
	var g Figure
	g.Now = training.Known(filter.Median(target))
	g.Low80, g.High80 = interval(filter, target, .80)
	return g
}

func interval(f *model.Filter, t model.Target, confidence float64) (low, high training.Num) {
	l, h := f.Interval(t, confidence)
	return training.Known(l), training.Known(h)
}

// against adds the bar of a decision and how sure it is on the evening; n may be nil.
func (g Figure) against(n *night, i int, d decision) Figure {
	g.Bar, g.Needed = training.Known(d.bar), training.Known(d.needed)
	if n != nil {
		g.Sure = training.Known(n.sure[i])
	}
	return g
}

// decided is the figure of a decision with its bar; all unknown where nothing was
// seen of it yet.
func (f *follow) decided(about subject, who int) (Figure, int) {
	n := f.last()
	for i, d := range f.decisions {
		if d.about != about || d.who != who {
			continue
		}
		if n == nil || about == onOwner && n.seen[i].Sessions == 0 {
			return Figure{Bar: training.Known(d.bar), Needed: training.Known(d.needed)}, i
		}
		return figureOf(f.watches[d.watch].Filter, d.target).against(n, i, d), i
	}
	if n == nil || about != onLevel {
		return Figure{}, -1
	}
	return figureOf(f.watches[0].Filter, model.Target{}), -1 // a walk without a bar
}

// last is the newest evening; nil = none.
func (f *follow) last() *night {
	if len(f.nights) == 0 {
		return nil
	}
	return &f.nights[len(f.nights)-1]
}
