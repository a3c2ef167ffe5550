package chart

import (
	"io"
	"math"
)

// Card is the picture that an owner gets: how one dog does, and nothing of others.
type Card struct {
	Name string // the dog's
	When string // the kennel and the day
	Cues []CardCue
	// NewHead stands above New: what was new this week, a line each.
	NewHead string
	New     []string
	Foot    string
}

// CardCue is one agreed cue with its present level.
type CardCue struct {
	Cue   string
	Words string // "answers 19 of 20 first asks"
	Bar   Bar
}

const (
	cardWidth, cardHeight = 540.0, 675.0 // at twice the size 1080 × 1350 pixels
	cardEdge              = 36.0
)

// CardPNG draws the card, 1080 by 1350 pixels. What does not fit is left out from the
// end, and the card says how many. The error is that of w.
func CardPNG(w io.Writer, c Card, more func(left int) string) error {
	return paintPNG(w, cardScene(c, more), 2)
}

func cardScene(c Card, more func(left int) string) scene {
	m := onPaper(cardWidth)
	s := scene{width: cardWidth, height: cardHeight}
	room := cardWidth - 2*cardEdge
	s.label(cardName, cardEdge, 62, shorten(m, cardName, c.Name, room))
	s.label(cardText, cardEdge, 106, shorten(m, cardText, c.When, room))
	news := c.New[:min(len(c.New), 4)]
	bottom := cardHeight - cardEdge - 34
	if len(news) > 0 {
		bottom -= float64(len(news))*28 + 46
	}
	y := 140.0
	each := math.Max(76, math.Min(124, (bottom-y)/float64(max(1, len(c.Cues)))))
	shown := len(c.Cues)
	if float64(shown)*each > bottom-y {
		shown = int((bottom - y - 26) / each)
	}
	for _, q := range c.Cues[:shown] {
		name := shorten(m, cardCue, q.Cue, room)
		s.label(cardCue, cardEdge, y+8, name)
		s.label(cardText, cardEdge, y+31, shorten(m, cardText, q.Words, room))
		s.bar(q.Bar, cardEdge, y+57, room, 12)
		y += each
	}
	if left := len(c.Cues) - shown; left > 0 {
		s.label(cardText, cardEdge, y+8, shorten(m, cardText, more(left), room))
	}
	y = bottom + 24
	if len(news) > 0 {
		s.label(cardCue, cardEdge, y, shorten(m, cardCue, c.NewHead, room))
		for i, n := range news {
			s.label(cardText, cardEdge, y+32+28*float64(i), shorten(m, cardText, n, room))
		}
	}
	s.label(soft, cardEdge, cardHeight-cardEdge, shorten(m, soft, c.Foot, room))
	return s
}
