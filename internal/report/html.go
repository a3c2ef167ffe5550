package report

import (
	"io"

	"firstcue/internal/analysis"
)

func (p page) html(w io.Writer, o Options) error { return nil }
func cueDrawing(a analysis.Assessment, c analysis.CueAssessment) (drawing, bool) {
	return drawing{}, false
}
