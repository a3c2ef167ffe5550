package stats_test

import (
	"math"
	"testing"

	"firstcue/internal/stats"
)

// The shrunk correlation worked by hand from the analysis-of-variance one of
// the published table: (k ICC + 10 x 0.10)/(k + 10), at least 0.
func TestShrunkICC(t *testing.T) {
	want := map[string]float64{
		"sessions10":      (10*0.516348773842 + 1) / 20,
		"weil_control":    (16*0.0290913854399 + 1) / 26,
		"equal_deff_lt_1": 0,    // (6 x -0.190 + 1)/16 is below 0
		"one_session":     0.10, // no estimate: the prior
		"all_success":     0.10,
		"singletons":      0.10,
	}
	for _, r := range published(t, "03_cluster_wilson.csv") {
		w, ok := want[r["id"]]
		if !ok {
			continue
		}
		got, raw, err := stats.ShrunkICC(r.list(t, "successes"), r.list(t, "trials"), 0.10, 10)
		fatal(t, err)
		near(t, r["id"], got, w, 1e-9)
		column(t, r, "icc_raw", raw, 1e-9)
		c, err := stats.Cluster(r.list(t, "successes"), r.list(t, "trials"), 0.95)
		fatal(t, err)
		near(t, r["id"]+" in Cluster", c.ICCShrunk, w, 1e-9)
		near(t, r["id"]+" design effect", c.DeffShrunk, 1+(c.MWeighted-1)*w, 1e-9)
	}
	// Another prior and weight.
	got, _, err := stats.ShrunkICC([]float64{0, 10}, []float64{10, 10}, 0.2, 6)
	fatal(t, err)
	near(t, "two extreme sessions", got, (2*1+6*0.2)/8, 1e-12)
}

// Fading sessions worked by hand: newest 8 of 8, then 4 of 5, then 0 of 3, half
// life one session, correlation 0.10.
func TestWeighted(t *testing.T) {
	r, err := stats.Weighted([]float64{8, 4, 0}, []float64{8, 5, 3}, []float64{1, 0.5, 0.25}, 0.10, 0.90)
	fatal(t, err)
	w := 8 + 2.5 + 0.75
	v := 8*1.7 + 0.25*5*1.4 + 0.0625*3*1.2
	near(t, "rate", r.Rate, 10/w, 1e-12)
	near(t, "size", r.N, w*w/v, 1e-12)
	iv, err := stats.Wilson(w*w/v*10/w, w*w/v, 0.90)
	fatal(t, err)
	near(t, "lower", r.Lower, iv.Lower, 1e-12)
	near(t, "upper", r.Upper, iv.Upper, 1e-12)
}

// The curve read at its own times and between them, from the published curves.
func TestSurvivalAt(t *testing.T) {
	data := map[string]row{}
	for _, r := range published(t, "05_km_summary.csv") {
		data[r["dataset"]] = r
	}
	for _, p := range published(t, "05_km_curve.csv") {
		s := curve(t, data[p["dataset"]], "times", "status")
		time, risk := p.num(t, "time"), int(p.num(t, "n_risk")-p.num(t, "n_event"))
		for _, c := range []struct {
			at   float64
			risk int
		}{{time, risk}, {time + 1e-6, risk - int(p.num(t, "n_censor"))}} {
			a, err := s.At(c.at, 0.95, stats.LogLog)
			fatal(t, err)
			surv := p.num(t, "surv")
			if c.risk == 0 && surv > 0 {
				if a.Surv.OK || a.Neff.OK || a.Lower.OK {
					t.Errorf("%s at %v: a figure beyond the last time: %+v", p["dataset"], c.at, a)
				}
				continue
			}
			if a.AtRisk != c.risk {
				t.Errorf("%s at %v: %d at risk, want %d", p["dataset"], c.at, a.AtRisk, c.risk)
			}
			near(t, "surv", a.Surv.V, surv, 1e-8)
			column(t, p, "se_greenwood", a.SE, 1e-8)
			column(t, p, "lower_loglog", a.Lower, 1e-8)
			column(t, p, "upper_loglog", a.Upper, 1e-8)
			var size float64
			switch surv {
			case 0:
				size = float64(s.N)
			case 1:
				size = float64(c.risk)
			default:
				se := p.num(t, "se_greenwood")
				size = surv * (1 - surv) / (se * se)
			}
			near(t, "size", a.Neff.V, size, 1e-8)
			iv, err := stats.Wilson(surv*size, size, 0.95)
			fatal(t, err)
			near(t, "Wilson lower", a.WilsonLower.V, iv.Lower, 1e-8)
			near(t, "Wilson upper", a.WilsonUpper.V, iv.Upper, 1e-8)
		}
	}
	s := curve(t, data["freireich_6mp"], "times", "status")
	a, err := s.At(3, 0.95, stats.LogLog) // before the first time
	fatal(t, err)
	if a.AtRisk != 21 || a.Surv.V != 1 || a.Lower.OK {
		t.Errorf("before the first time: %+v", a)
	}
}

// predict is the fitted linear predictor (logit) at x, and its standard error
// from the covariances.
func predict(f stats.LogisticFit, x []float64) (logit, se float64) {
	var v float64
	for i, a := range x {
		logit += a * f.Coef[i]
		for j, b := range x {
			v += a * b * f.Cov[i][j]
		}
	}
	return logit, math.Sqrt(v)
}

// Beetles of Bliss 1935: Pearson chi-square and a prediction, R 4.2.2 glm and
// predict (Dobson prints 10.03 for the first).
func TestLogisticPearsonAndPrediction(t *testing.T) {
	d, _ := logisticData(t, "bliss_beetle")
	f, err := stats.Logistic(d)
	fatal(t, err)
	near(t, "Pearson", f.Pearson, 10.0268175856, 1e-8)
	logit, se := predict(f, []float64{1, 1.8})
	near(t, "prediction", logit, 0.969131759825, 1e-7)
	near(t, "its error", se, 0.145056239038, 1e-6) // R stops its iteration at 1e-8 of the deviance
}

// A prior worked by hand: one coefficient, no data to speak of, gives the
// prior back; a symmetric pair of answers leaves a centred prior where it is.
func TestLogisticPrior(t *testing.T) {
	f, err := stats.Logistic(stats.LogisticData{X: [][]float64{{1}}, Y: []float64{0}, N: []float64{0}, Prior: []stats.NormalPrior{{Mean: 1.5, SD: 0.7}}})
	fatal(t, err)
	near(t, "mean", f.Coef[0], 1.5, 1e-9)
	near(t, "sd", f.SE[0], 0.7, 1e-9)
	f, err = stats.Logistic(stats.LogisticData{X: [][]float64{{1}}, Y: []float64{5}, N: []float64{10}, Prior: []stats.NormalPrior{{SD: 2}}})
	fatal(t, err)
	near(t, "mode", f.Coef[0], 0, 1e-9)
	near(t, "curvature", f.SE[0], 1/math.Sqrt(10*0.25+0.25), 1e-9)
}

// Equality signals: the path -1 -1 4 3 7 11 10 9 13 17 of the published case
// reaches 13 at its ninth trial.
func TestCUSUMSignalsOnEquality(t *testing.T) {
	x := []bool{false, false, true, false, true, true, false, false, true, true}
	for h, want := range map[int]int{11: 6, 12: 9, 13: 9, 14: 10, 18: 0} {
		_, first, err := stats.BernoulliCUSUM{Num: 1, Den: 5, H: h}.Path(x)
		fatal(t, err)
		if first != want {
			t.Errorf("threshold %d: first signal %d, want %d", h, first, want)
		}
	}
}

// Minus zero is zero: one time, not two.
func TestMinusZeroTime(t *testing.T) {
	s, err := stats.KaplanMeier([]float64{1, 0, math.Copysign(0, -1)}, []bool{true, true, false})
	fatal(t, err)
	if len(s.Points) != 2 || s.Points[0].AtRisk != 3 || s.Points[0].Censored != 1 {
		t.Errorf("%+v", s.Points)
	}
}
