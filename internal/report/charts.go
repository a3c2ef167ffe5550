package report

import "firstcue/internal/analysis"

const chartStyle = ``

func chartBlocks(a analysis.Assessment) []block { return nil }
