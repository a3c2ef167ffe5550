package stats_test

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"firstcue/internal/stats"
)

// column compares one figure with its column; NA means it must be absent.
func column(t testing.TB, r row, col string, got stats.Number, tol float64) {
	t.Helper()
	if r.na(col) {
		if got.OK {
			t.Errorf("%s: got %v, want none", col, got.V)
		}
		return
	}
	if !got.OK {
		t.Errorf("%s: got none, want %s", col, r[col])
		return
	}
	near(t, col, got.V, r.num(t, col), tol)
}

func some(v float64) stats.Number { return stats.Some(v) }

// printed compares with digits as published: half a unit of the last one.
func printed(t testing.TB, what, digits string, got float64) {
	t.Helper()
	want, err := strconv.ParseFloat(digits, 64)
	if err != nil {
		t.Fatalf("%s: %q is not a number", what, digits)
	}
	unit := 1.0
	if i := strings.IndexByte(digits, '.'); i >= 0 {
		unit = math.Pow(10, -float64(len(digits)-i-1))
	}
	if math.Abs(got-want) > unit/2*(1+1e-9) {
		t.Errorf("%s: got %.10g, printed %s", what, got, digits)
	}
}

func TestWilsonTable(t *testing.T) {
	for _, r := range published(t, "01_wilson.csv") {
		t.Run(r["x"]+"of"+r["n"]+"at"+r["level"], func(t *testing.T) {
			iv, err := stats.Wilson(r.num(t, "x"), r.num(t, "n"), r.num(t, "level"))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "lower", iv.Lower, r.num(t, "lower"), 1e-9)
			near(t, "upper", iv.Upper, r.num(t, "upper"), 1e-9)
			if !r.na("printed_lower") {
				printed(t, "lower", r["printed_lower"], iv.Lower)
				printed(t, "upper", r["printed_upper"], iv.Upper)
			}
		})
	}
}

func TestNewcombeTable(t *testing.T) {
	for _, r := range published(t, "02_newcombe_diff.csv") {
		t.Run(r["x1"]+"_"+r["n1"]+"_"+r["x2"]+"_"+r["n2"], func(t *testing.T) {
			d, err := stats.Newcombe(r.num(t, "x1"), r.num(t, "n1"), r.num(t, "x2"), r.num(t, "n2"), r.num(t, "level"))
			if err != nil {
				t.Fatal(err)
			}
			column(t, r, "diff", d.Diff, 1e-9)
			near(t, "lower", d.Lower, r.num(t, "lower"), 1e-9)
			near(t, "upper", d.Upper, r.num(t, "upper"), 1e-9)
			if !r.na("printed_lower") {
				printed(t, "lower", r["printed_lower"], d.Lower)
				printed(t, "upper", r["printed_upper"], d.Upper)
			}
		})
	}
}

func TestClusterTable(t *testing.T) {
	for _, r := range published(t, "03_cluster_wilson.csv") {
		t.Run(r["id"], func(t *testing.T) {
			c, err := stats.Cluster(r.list(t, "successes"), r.list(t, "trials"), r.num(t, "level"))
			if err != nil {
				t.Fatal(err)
			}
			for col, got := range map[string]stats.Number{
				"k": some(float64(c.K)), "N": some(c.N), "X": some(c.X), "p": some(c.P), "var_ratio": c.VarRatio,
				"deff_raw": c.DeffRaw, "deff": some(c.Deff), "neff": some(c.Neff), "lower": some(c.Lower), "upper": some(c.Upper),
				"m0": c.M0, "m_weighted": some(c.MWeighted), "icc_raw": c.ICCRaw, "icc": some(c.ICC),
				"deff_icc": some(c.DeffICC), "neff_icc": some(c.NeffICC), "lower_icc": some(c.LowerICC), "upper_icc": some(c.UpperICC),
				"neff_kg": c.NeffKG, "lower_kg": c.LowerKG, "upper_kg": c.UpperKG,
				"svyciprop_beta_lower": c.LowerBeta, "svyciprop_beta_upper": c.UpperBeta,
				"lower_unadj": some(c.LowerUnadj), "upper_unadj": some(c.UpperUnadj),
			} {
				column(t, r, col, got, 1e-9)
			}
		})
	}
}

func TestRaoScottTable(t *testing.T) {
	data := map[string]row{}
	for _, r := range published(t, "03_cluster_wilson.csv") {
		data[r["id"]] = r
	}
	for _, r := range published(t, "03_rao_scott_test.csv") {
		if r["id"] != "weil_control_vs_treated" {
			t.Fatalf("no data for %s", r["id"])
		}
		a, b := data["weil_control"], data["weil_treated"]
		g, err := stats.RaoScott(
			[][]float64{a.list(t, "successes"), b.list(t, "successes")},
			[][]float64{a.list(t, "trials"), b.list(t, "trials")})
		if err != nil {
			t.Fatal(err)
		}
		for i := range 2 {
			near(t, "deff", g.Deff[i], r.list(t, "deff")[i], 1e-9)
			near(t, "neff", g.Neff[i], r.list(t, "neff")[i], 1e-9)
			near(t, "yeff", g.Yeff[i], r.list(t, "yeff")[i], 1e-9)
		}
		column(t, r, "chisq", g.ChiSq, 1e-9)
		near(t, "df", float64(g.DF), r.num(t, "df"), 0)
		near(t, "p", g.P, r.num(t, "p"), 1e-9)
		// Printed in the documentation of the R package PF as Rao & Scott's Table 1.
		printed(t, "deff control", "1.232495", g.Deff[0])
		printed(t, "deff treated", "3.952861", g.Deff[1])
	}
}

func TestMannKendallTable(t *testing.T) {
	for _, r := range published(t, "04_mann_kendall_sen.csv") {
		t.Run(r["id"], func(t *testing.T) {
			m, err := stats.MannKendall(r.list(t, "t"), r.list(t, "y"))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "n", float64(m.N), r.num(t, "n"), 0)
			near(t, "S", m.S, r.num(t, "S"), 0)
			near(t, "varS", m.VarS, r.num(t, "varS"), 1e-9)
			column(t, r, "tau_b", m.TauB, 1e-9)
			column(t, r, "z", m.Z, 1e-9)
			if !r.na("p_normal_cc") {
				near(t, "p_normal_cc", m.PNormal, r.num(t, "p_normal_cc"), 1e-9)
			}
			for _, col := range []string{"p_exact", "p_perm_ties"} {
				if !r.na(col) {
					want := r.num(t, col)
					if !m.Exact || !(math.Abs(m.PTwoSided-want) <= 1e-9*want) {
						t.Errorf("%s: got %.12g, want %.12g", col, m.PTwoSided, want)
					}
				}
			}
		})
	}
}

func TestTheilSenTable(t *testing.T) {
	for _, r := range published(t, "04_mann_kendall_sen.csv") {
		t.Run(r["id"], func(t *testing.T) {
			f, err := stats.TheilSen(r.list(t, "t"), r.list(t, "y"), r.num(t, "ci_level"))
			if err != nil {
				t.Fatal(err)
			}
			for col, got := range map[string]float64{
				"sen_slope": f.Slope, "intercept_separate": f.InterceptSeparate, "intercept_joint": f.InterceptJoint,
				"n_slopes": float64(f.NSlopes), "sen_lower_rank": f.LowerRank, "sen_upper_rank": f.UpperRank,
				"sen_lower_interp": f.LowerInterp, "sen_upper_interp": f.UpperInterp,
			} {
				near(t, col, got, r.num(t, col), 1e-9)
			}
			if f.Clamped != (r["sen_ci_clamped"] == "1") {
				t.Errorf("clamped: got %v, want %s", f.Clamped, r["sen_ci_clamped"])
			}
		})
	}
}

func TestKendallExactTable(t *testing.T) {
	for _, r := range published(t, "04_kendall_exact_table.csv") {
		up, two, err := stats.KendallTail(int(r.num(t, "n")), r.num(t, "S"))
		if err != nil {
			t.Fatal(err)
		}
		near(t, r["n"]+" "+r["S"]+" p_upper", up, r.num(t, "p_upper"), 1e-11)
		near(t, r["n"]+" "+r["S"]+" p_two_sided", two, r.num(t, "p_two_sided"), 1e-11)
	}
}

func curve(t testing.TB, r row, times, status string) *stats.Survival {
	t.Helper()
	s, err := stats.KaplanMeier(r.list(t, times), bools(r.list(t, status)))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestKaplanMeierTable(t *testing.T) {
	points := map[string][]row{}
	for _, r := range published(t, "05_km_curve.csv") {
		points[r["dataset"]] = append(points[r["dataset"]], r)
	}
	means := map[string][]row{}
	for _, r := range published(t, "05_rmst.csv") {
		means[r["dataset"]] = append(means[r["dataset"]], r)
	}
	transforms := map[string]stats.Transform{"plain": stats.Plain, "log": stats.Log, "loglog": stats.LogLog}
	for _, r := range published(t, "05_km_summary.csv") {
		t.Run(r["dataset"], func(t *testing.T) {
			s := curve(t, r, "times", "status")
			near(t, "n", float64(s.N), r.num(t, "n"), 0)
			near(t, "events", float64(s.Events), r.num(t, "events"), 0)
			first, mid := s.Median()
			column(t, r, "median_first_time", first, 1e-8)
			column(t, r, "median_midpoint", mid, 1e-8)
			for name, tr := range transforms {
				lo, hi, err := s.QuantileLimits(0.5, 0.95, tr)
				if err != nil {
					t.Fatal(err)
				}
				column(t, r, "med_lower_"+name, lo, 1e-8)
				column(t, r, "med_upper_"+name, hi, 1e-8)
			}
			m, se, err := s.RestrictedMean(r.num(t, "tau"))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "rmean_tau", m, r.num(t, "rmean_tau"), 1e-8)
			near(t, "se_rmean_tau", se, r.num(t, "se_rmean_tau"), 1e-8)
			for _, q := range means[r["dataset"]] {
				m, se, err := s.RestrictedMean(q.num(t, "tau"))
				if err != nil {
					t.Fatal(err)
				}
				near(t, "rmst to "+q["tau"], m, q.num(t, "rmst"), 1e-8)
				near(t, "se to "+q["tau"], se, q.num(t, "se"), 1e-8)
			}

			want := points[r["dataset"]]
			if len(want) != len(s.Points) || len(want) == 0 {
				t.Fatalf("curve has %d points, want %d", len(s.Points), len(want))
			}
			for i, w := range want {
				p := s.Points[i]
				near(t, "time", p.Time, w.num(t, "time"), 0)
				near(t, "n_risk", float64(p.AtRisk), w.num(t, "n_risk"), 0)
				near(t, "n_event", float64(p.Events), w.num(t, "n_event"), 0)
				near(t, "n_censor", float64(p.Censored), w.num(t, "n_censor"), 0)
				near(t, "surv", p.Surv, w.num(t, "surv"), 1e-8)
				column(t, w, "se_greenwood", p.SE, 1e-8)
				for name, tr := range transforms {
					lo, hi, err := s.Limits(i, 0.95, tr)
					if err != nil {
						t.Fatal(err)
					}
					column(t, w, "lower_"+name, lo, 1e-8)
					column(t, w, "upper_"+name, hi, 1e-8)
				}
			}
		})
	}
}

func TestLogRankTable(t *testing.T) {
	for _, r := range published(t, "05_logrank.csv") {
		t.Run(r["id"], func(t *testing.T) {
			l, err := stats.LogRank(r.list(t, "times1"), bools(r.list(t, "status1")), r.list(t, "times2"), bools(r.list(t, "status2")))
			if err != nil {
				t.Fatal(err)
			}
			for col, got := range map[string]float64{"O1": l.O1, "E1": l.E1, "O2": l.O2, "E2": l.E2, "var": l.Var} {
				near(t, col, got, r.num(t, col), 1e-8)
			}
			column(t, r, "chisq", l.ChiSq, 1e-8)
			column(t, r, "p", l.P, 1e-8)
			if !r.na("printed_chisq") {
				printed(t, "chisq", r["printed_chisq"], l.ChiSq.V)
			}
		})
	}
}

func TestGarwoodTable(t *testing.T) {
	for _, r := range published(t, "06_poisson_ci.csv") {
		g, err := stats.Garwood(r.num(t, "count"), r.num(t, "exposure"), r.num(t, "level"))
		if err != nil {
			t.Fatal(err)
		}
		near(t, "rate", g.Rate, r.num(t, "rate"), 1e-9)
		near(t, "lower", g.Lower, r.num(t, "lower"), 1e-9)
		near(t, "upper", g.Upper, r.num(t, "upper"), 1e-9)
		if !r.na("printed_lower") {
			printed(t, "lower", r["printed_lower"], g.Lower)
			printed(t, "upper", r["printed_upper"], g.Upper)
		}
	}
}

func TestCompareRatesTable(t *testing.T) {
	for _, r := range published(t, "06_poisson_compare.csv") {
		t.Run(r["x1"]+"_"+r["x2"], func(t *testing.T) {
			c, err := stats.CompareRates(r.num(t, "x1"), r.num(t, "t1"), r.num(t, "x2"), r.num(t, "t2"), r.num(t, "level"))
			if err != nil {
				t.Fatal(err)
			}
			column(t, r, "rate_ratio", c.RateRatio, 1e-9)
			for col, got := range map[string]float64{
				"p_two_minlik": c.PTwoMinLik, "p_two_doubled": c.PTwoDoubled, "p_greater": c.PGreater,
				"p_less": c.PLess, "p_mid_doubled": c.PMidDoubled,
			} {
				near(t, col, got, r.num(t, col), 1e-9)
			}
			column(t, r, "rr_lower", c.RRLower, 1e-9)
			column(t, r, "rr_upper", c.RRUpper, 1e-9)
			if !r.na("printed_p") {
				printed(t, "p", r["printed_p"], c.PTwoMinLik)
			}
		})
	}
}

func TestFisherTable(t *testing.T) {
	for _, r := range published(t, "07_fisher.csv") {
		t.Run(r["a"]+"_"+r["b"]+"_"+r["c"]+"_"+r["d"], func(t *testing.T) {
			f, err := stats.Fisher(r.num(t, "a"), r.num(t, "b"), r.num(t, "c"), r.num(t, "d"), 0.95)
			if err != nil {
				t.Fatal(err)
			}
			less, err := stats.FisherLess(r.num(t, "a"), r.num(t, "b"), r.num(t, "c"), r.num(t, "d"))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "p_less alone", less, r.num(t, "p_less"), 1e-9)
			for col, got := range map[string]float64{
				"p_less": f.PLess, "p_greater": f.PGreater, "p_two_minlik": f.PTwoMinLik, "p_two_doubled": f.PTwoDoubled,
				"midp_less": f.MidPLess, "midp_greater": f.MidPGreater, "midp_two_minlik_alleq": f.MidPTwoMinLikAllEq,
				"midp_two_minlik_obs": f.MidPTwoMinLikObs, "midp_two_doubled": f.MidPTwoDoubled,
			} {
				near(t, col, got, r.num(t, col), 1e-9)
			}
			// The table has the odds ratios as R prints them, from a search
			// that stops at about four digits.
			column(t, r, "or_cond_mle", f.ORCondMLEAsR, 1e-9)
			column(t, r, "or_lower", f.ORLowerAsR, 1e-9)
			column(t, r, "or_upper", f.ORUpperAsR, 1e-9)
			// The exact ones agree to what that search can give.
			column(t, r, "or_cond_mle", f.ORCondMLE, 2e-4)
			column(t, r, "or_lower", f.ORLower, 5e-4)
			column(t, r, "or_upper", f.ORUpper, 1e-2)
			if !r.na("printed_midp") {
				printed(t, "mid-p", r["printed_midp"], f.MidPTwoMinLikAllEq)
			}
			if p := r["printed_p"]; !r.na("printed_p") {
				if digits, oneSided := strings.CutSuffix(p, " (greater)"); oneSided {
					printed(t, "p greater", digits, f.PGreater)
				} else {
					printed(t, "p", p, f.PTwoMinLik)
				}
			}
		})
	}
}

func TestKappaTable(t *testing.T) {
	for _, r := range published(t, "08_kappa.csv") {
		t.Run(r["id"], func(t *testing.T) {
			k := int(r.num(t, "k"))
			cells := r.list(t, "table_rowmajor")
			var table [][]float64
			for i := range k {
				table = append(table, cells[i*k:(i+1)*k])
			}
			a, err := stats.Kappa(table, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			for col, got := range map[string]float64{
				"n": a.N, "agree": a.Agree, "agree_wilson_lower": a.AgreeLower, "agree_wilson_upper": a.AgreeUpper, "expected": a.Expected,
			} {
				near(t, col, got, r.num(t, col), 1e-9)
			}
			for col, got := range map[string]stats.Number{
				"kappa": a.Kappa, "se_asymptotic": a.SE, "se_null": a.SENull, "se_cohen1960": a.SECohen1960, "lower": a.Lower, "upper": a.Upper,
			} {
				column(t, r, col, got, 1e-9)
			}
		})
	}
}

func TestAdjustTable(t *testing.T) {
	sets := map[string][]row{}
	for _, r := range published(t, "13_padjust.csv") {
		sets[r["id"]] = append(sets[r["id"]], r)
	}
	for id, rows := range sets {
		var p []float64
		for _, r := range rows {
			p = append(p, r.num(t, "p"))
		}
		for col, f := range map[string]func([]float64) ([]float64, error){
			"holm": stats.Holm, "bh": stats.BenjaminiHochberg, "bonferroni": stats.Bonferroni,
		} {
			got, err := f(p)
			if err != nil {
				t.Fatal(err)
			}
			for i, r := range rows {
				near(t, id+" "+col, got[i], r.num(t, col), 1e-9)
			}
		}
	}
}

func logisticData(t testing.TB, dataset string) (stats.LogisticData, []string) {
	var d stats.LogisticData
	var terms []string
	for _, r := range published(t, "11_logistic_data.csv") {
		if r["dataset"] != dataset {
			continue
		}
		terms = strings.Split(r["terms"], ";")
		d.X = append(d.X, numbers(t, strings.Split(r["x"], ";")))
		d.Y = append(d.Y, r.num(t, "y"))
		d.N = append(d.N, r.num(t, "n"))
	}
	return d, terms
}

func TestLogisticTable(t *testing.T) {
	fits := map[string]stats.LogisticFit{}
	for _, r := range published(t, "11_logistic_fit.csv") {
		d, terms := logisticData(t, r["dataset"])
		f, ok := fits[r["dataset"]]
		if !ok {
			var err error
			if f, err = stats.Logistic(d); err != nil {
				t.Fatalf("%s: %v", r["dataset"], err)
			}
			fits[r["dataset"]] = f
		}
		t.Run(r["dataset"]+" "+r["term"], func(t *testing.T) {
			j := -1
			for i, s := range terms {
				if s == r["term"] {
					j = i
				}
			}
			if j < 0 {
				t.Fatal("no such term")
			}
			near(t, "estimate", f.Coef[j], r.num(t, "estimate"), 1e-7*math.Abs(f.Coef[j])+1e-15)
			near(t, "se", f.SE[j], r.num(t, "se"), 1e-8)
			near(t, "deviance", f.Deviance, r.num(t, "deviance"), 1e-9)
			column(t, r, "null_deviance", f.NullDeviance, 1e-9)
			near(t, "df_resid", float64(f.DFResid), r.num(t, "df_resid"), 0)
			near(t, "loglik", f.LogLik, r.num(t, "loglik"), 1e-9)
		})
	}
}

func TestSPRTTable(t *testing.T) {
	for _, r := range published(t, "09_sprt.csv") {
		t.Run(r["id"], func(t *testing.T) {
			s, err := stats.WaldSPRT(r.num(t, "p0"), r.num(t, "p1"), r.num(t, "alpha"), r.num(t, "beta"))
			if err != nil {
				t.Fatal(err)
			}
			for col, got := range map[string]float64{
				"h1_accept": s.H1, "h2_reject": s.H2, "slope": s.Slope,
				"n_accept_zero_failures": float64(s.NAcceptZeroFailures), "n_accept_one_failure": float64(s.NAcceptOneFailure),
				"min_reject_all_failures": float64(s.MinRejectAllFailures),
				"exact_accept_at_p0":      s.AtP0.Accept, "exact_reject_at_p0": s.AtP0.Reject, "exact_asn_p0": s.AtP0.ASN,
				"exact_accept_at_p1": s.AtP1.Accept, "exact_reject_at_p1": s.AtP1.Reject, "exact_asn_p1": s.AtP1.ASN,
				"llr_per_success": s.LLRPerSuccess, "llr_per_failure": s.LLRPerFailure, "upper_llr": s.UpperLLR, "lower_llr": s.LowerLLR,
			} {
				near(t, col, got, r.num(t, col), 1e-9)
			}
		})
	}
}

func TestSuccessRunTable(t *testing.T) {
	for _, r := range published(t, "09_success_run.csv") {
		s, err := stats.SuccessRunSize(r.num(t, "reliability"), r.num(t, "confidence"), int(r.num(t, "failures_allowed")))
		if err != nil {
			t.Fatal(err)
		}
		near(t, "n", float64(s.N), r.num(t, "n"), 0)
		near(t, "confidence_at_n", s.ConfidenceAtN, r.num(t, "confidence_at_n"), 1e-9)
		near(t, "confidence_at_n_minus_1", s.ConfidenceAtNMinus1, r.num(t, "confidence_at_n_minus_1"), 1e-9)
	}
}

func TestBernoulliCUSUMTable(t *testing.T) {
	for _, r := range published(t, "10_bernoulli_cusum.csv") {
		t.Run(r["id"], func(t *testing.T) {
			p0, p1 := r.num(t, "p0"), r.num(t, "p1")
			ref, err := stats.Reference(p0, p1)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "gamma_exact", ref, r.num(t, "gamma_exact"), 1e-9)
			b := stats.BernoulliCUSUM{Num: int(r.num(t, "gamma_num")), Den: int(r.num(t, "gamma_den")), H: int(r.num(t, "h_units"))}
			for col, p := range map[string]float64{"arl_p0": p0, "arl_p1": p1, "arl_p0_x1.5": 1.5 * p0} {
				got, err := b.RunLength(p)
				if err != nil {
					t.Fatal(err)
				}
				near(t, col, got.V, r.num(t, col), 1e-8)
			}
			for _, at := range []string{"p0", "p1"} { // the simulated columns, 4 standard errors
				got, _ := b.RunLength(r.num(t, at))
				if d := math.Abs(got.V - r.num(t, "sim_arl_"+at)); d > 4*r.num(t, "sim_se_"+at) {
					t.Errorf("sim_arl_%s: %v is %v off", at, got.V, d)
				}
			}
		})
	}
}

func TestBernoulliCUSUMPathTable(t *testing.T) {
	for _, r := range published(t, "10_bernoulli_cusum_path.csv") {
		b := stats.BernoulliCUSUM{Num: int(r.num(t, "gamma_num")), Den: int(r.num(t, "gamma_den")), H: int(r.num(t, "h_units"))}
		units, first, err := b.Path(bools(r.list(t, "x")))
		if err != nil {
			t.Fatal(err)
		}
		for i, want := range r.list(t, "path_units") {
			near(t, r["id"]+" path", float64(units[i]), want, 0)
		}
		want := 0.0
		if !r.na("first_signal") {
			want = r.num(t, "first_signal")
		}
		near(t, r["id"]+" first signal", float64(first), want, 0)
	}
}

func TestBetaBinomialTable(t *testing.T) {
	for _, r := range published(t, "12_betabinomial.csv") {
		t.Run(r["id"], func(t *testing.T) {
			f, err := stats.BetaBinomial(r.list(t, "successes"), r.list(t, "trials"))
			if err != nil {
				t.Fatal(err)
			}
			for col, got := range map[string]stats.Number{
				"p_pooled": some(f.PPooled), "icc_anova": f.ICCANOVA, "pearson_chi2": f.Pearson, "df": some(float64(f.DF)),
			} {
				column(t, r, col, got, 1e-9)
			}
			for col, got := range map[string]stats.Number{
				"mu": some(f.Mu), "rho": some(f.Rho), "theta": f.Theta, "alpha": f.Alpha, "beta": f.Beta, "se_mu": f.SEMu, "se_rho": f.SERho,
				"loglik": some(f.LogLik), "loglik_binomial": some(f.LogLikBinomial), "lrt": some(f.LRT), "lrt_p_half": some(f.LRTPHalf),
			} {
				column(t, r, col, got, 1e-6)
			}
		})
	}
}

func TestRandomInterceptTable(t *testing.T) {
	type set struct {
		x     [][]float64
		y, n  []float64
		group []int
		terms []string
	}
	sets := map[string]*set{}
	for _, r := range published(t, "12_glmm_data.csv") {
		s := sets[r["dataset"]]
		if s == nil {
			s = &set{terms: strings.Split(r["terms"], ";")}
			sets[r["dataset"]] = s
		}
		s.x = append(s.x, numbers(t, strings.Split(r["x"], ";")))
		s.y = append(s.y, r.num(t, "y"))
		s.n = append(s.n, r.num(t, "n"))
		s.group = append(s.group, int(r.num(t, "group")))
	}
	nodes := map[string]int{"laplace": 1, "agq25": 25}
	fits := map[string]stats.RandomInterceptFit{}
	fit := func(dataset, method string) (stats.RandomInterceptFit, *set) {
		s := sets[dataset]
		f, ok := fits[dataset+method]
		if !ok {
			var err error
			if f, err = stats.RandomIntercept(s.x, s.y, s.n, s.group, nodes[method]); err != nil {
				t.Fatalf("%s %s: %v", dataset, method, err)
			}
			fits[dataset+method] = f
		}
		return f, s
	}
	for _, r := range published(t, "12_glmm_fit.csv") {
		t.Run(r["dataset"]+" "+r["method"]+" "+r["term"], func(t *testing.T) {
			f, s := fit(r["dataset"], r["method"])
			near(t, "loglik", f.LogLik, r.num(t, "loglik"), 1e-7)
			if r["term"] == "sd_group" {
				near(t, "sd", f.SD, r.num(t, "estimate"), 1e-5)
				column(t, r, "se", f.SESD, 1e-5)
				return
			}
			for j, term := range s.terms {
				if term == r["term"] {
					near(t, "estimate", f.Coef[j], r.num(t, "estimate"), 1e-5)
					near(t, "se", f.SE[j], r.num(t, "se"), 1e-5)
					near(t, "se given sd", f.SEGivenSD[j], r.num(t, "se_given_sd"), 1e-5)
					return
				}
			}
			t.Fatal("no such term")
		})
	}
	for _, r := range published(t, "12_glmm_modes.csv") {
		f, _ := fit(r["dataset"], "laplace")
		found := false
		for _, m := range f.Modes {
			if m.Group == int(r.num(t, "group")) {
				found = true
				near(t, r["dataset"]+" mode of "+r["group"], m.Mode, r.num(t, "mode"), 1e-5)
				near(t, r["dataset"]+" sd of "+r["group"], m.SD, r.num(t, "cond_sd"), 1e-5)
			}
		}
		if !found {
			t.Errorf("%s: no mode of group %s", r["dataset"], r["group"])
		}
	}
}
