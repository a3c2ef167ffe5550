package analysis

import "firstcue/internal/training"

func dogForecast(a Assessment, r training.Record) *Forecast         { return nil }
func cautions(a Assessment, sc *scene) []Caution                    { return nil }
func (h *history) changes(c *CueAssessment, b *bench)               {}
func (h *history) goalGate(s []cueSitting, b *bench) ([]Gate, bool) { return nil, false }
func (h *history) forecast(a *Assessment, s []cueSitting, n []night, c CueAssessment) *Forecast {
	return nil
}
