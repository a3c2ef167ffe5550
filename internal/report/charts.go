package report

import (
	"errors"
	"io"

	"firstcue/internal/analysis"
)

const chartStyle = ``

func chartBlocks(a analysis.Assessment) []block { return nil }

func Card(w io.Writer, a analysis.Assessment, week bool) error { return errors.New("to come") }

func ChartSVG(w io.Writer, a analysis.Assessment, c analysis.CueAssessment) error { return nil }
func ChartPNG(w io.Writer, a analysis.Assessment, c analysis.CueAssessment) error { return nil }
func Progress(w io.Writer, a analysis.Assessment, cues []analysis.CueAssessment, o Options) error {
	return nil
}
func ProgressJSON(w io.Writer, a analysis.Assessment, cues []analysis.CueAssessment, o Options) error {
	return nil
}
