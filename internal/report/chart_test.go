package report

import (
	"bytes"
	"testing"
)

func TestCharts(t *testing.T) {
	a := juniper()
	var b bytes.Buffer
	for _, c := range a.Cues {
		if err := ChartText(&b, a, c, Options{}); err != nil {
			t.Fatal(err)
		}
		b.WriteString("\n")
	}
	golden(t, "chart.txt", b.Bytes())
	b.Reset()
	if err := ChartText(&b, a, a.Cues[2], Options{Width: 60, ASCII: true}); err != nil {
		t.Fatal(err)
	}
	golden(t, "chart-ascii.txt", b.Bytes())
	b.Reset()
	if err := ChartSVG(&b, a, a.Cues[3]); err != nil {
		t.Fatal(err)
	}
	golden(t, "chart.svg", b.Bytes())
}
