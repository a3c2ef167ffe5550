package report

import (
	"errors"
	"io"

	"firstcue/internal/analysis"
)

const chartStyle = ``

func chartBlocks(a analysis.Assessment) []block { return nil }

func Card(w io.Writer, a analysis.Assessment, week bool) error { return errors.New("to come") }
