package check

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"firstcue/internal/stats"
)

var statistics []Statistic

func init() {
	statistics = []Statistic{
		{"wilson", "score interval of a proportion", "x, n, level", wilson},
		{"newcombe", "difference of two proportions", "x1, n1, x2, n2, level", newcombe},
		{"effective", "proportion from sessions: design effect, intraclass correlation, intervals", "successes[], trials[], level", effective},
		{"weighted", "weighted proportion from sessions, fixed intraclass correlation", "successes[], trials[], weights[], icc, level", weighted},
		{"raoscott", "groups of sessions compared", "groups[{successes[], trials[]}]", raoScott},
		{"cochranarmitage", "linear trend of proportions", "successes[], trials[], scores[], deff[]", cochranArmitage},
		{"binomial", "binomial tails", "k, n, p", binomial},
		{"betaquantile", "quantile of a beta distribution", "q, a, b", betaQuantile},
		{"mannkendall", "monotone trend with ties, exact and normal", "t[], y[], level; or n, S", mannKendall},
		{"theilsen", "median slope with Sen's limits", "t[], y[], level", theilSen},
		{"kaplanmeier", "survival curve, median, limits, restricted mean", "times[], status[], level, tau, at[]", kaplanMeier},
		{"rmst", "restricted mean", "times[], status[], tau", restrictedMean},
		{"logrank", "two survival curves compared", "times1[], status1[], times2[], status2[]", logRank},
		{"poisson", "rate with exact limits (Garwood)", "count, exposure, level", poisson},
		{"poissoncompare", "two rates compared", "x1, t1, x2, t2, level", poissonCompare},
		{"fisher", "2 x 2 table, exact", "a, b, c, d, level", fisher},
		{"kappa", "agreement of two scorers", "table[[]], level", kappa},
		{"sprt", "Wald's sequential test", "p0, p1, alpha, beta", sprt},
		{"successrun", "clean trials needed", "reliability, confidence, failures_allowed", successRun},
		{"cusum", "Bernoulli CUSUM: run lengths and path", "p0, p1, gamma_num, gamma_den, h_units; x[]", cusum},
		{"sessioncusum", "CUSUM that knows sessions", "x[], session[], p0, p1, icc, h", sessionCUSUM},
		{"logistic", "logistic regression", "x[[]], y[], n[], weights[], prior_mean[], prior_sd[]", logistic},
		{"loglinear", "log-linear learning curve, chance 1 at the start", "x[[]], y[], n[]", logLinear},
		{"betabinomial", "beta-binomial by maximum likelihood", "successes[], trials[]", betaBinomial},
		{"randomintercept", "logistic regression with a random intercept", "x[[]], y[], n[], group[], nodes", randomIntercept},
		{"holm", "p-values adjusted for many tests (Holm)", "p[]", holm},
		{"bh", "p-values adjusted for many tests (Benjamini-Hochberg)", "p[]", benjaminiHochberg},
	}
}

// value turns a pair of result and error into an output.
func answer(err error, o func() output) (output, error) {
	if err != nil {
		return nil, err
	}
	return o(), nil
}

func clusters(in *input) (x, n []float64) {
	return in.list("successes", "x", "y"), in.list("trials", "n")
}

func wilson(in *input) (output, error) {
	x, n, level := in.num("x", "successes", "count"), in.num("n", "trials"), in.level()
	if in.err != nil {
		return nil, in.err
	}
	iv, err := stats.Wilson(x, n, level)
	return answer(err, func() output {
		phat := stats.Number{}
		if n > 0 {
			phat = stats.Some(x / n)
		}
		return output{"x": x, "n": n, "level": level, "phat": phat, "lower": iv.Lower, "upper": iv.Upper}
	})
}

func newcombe(in *input) (output, error) {
	x1, n1, x2, n2, level := in.num("x1"), in.num("n1"), in.num("x2"), in.num("n2"), in.level()
	if in.err != nil {
		return nil, in.err
	}
	d, err := stats.Newcombe(x1, n1, x2, n2, level)
	return answer(err, func() output {
		return output{"x1": x1, "n1": n1, "x2": x2, "n2": n2, "level": level, "diff": d.Diff, "lower": d.Lower, "upper": d.Upper}
	})
}

func effective(in *input) (output, error) {
	x, n := clusters(in)
	level := in.level()
	prior := in.numOr(stats.DefaultICC, "prior_icc")
	weight := in.numOr(stats.DefaultICCSessions, "prior_weight")
	if in.err != nil {
		return nil, in.err
	}
	c, err := stats.Cluster(x, n, level)
	if err != nil {
		return nil, err
	}
	icc, _, err := stats.ShrunkICC(x, n, prior, weight)
	if err != nil {
		return nil, err
	}
	s, err := stats.Weighted(x, n, nil, icc, level)
	return answer(err, func() output {
		return output{
			"k": c.K, "N": c.N, "X": c.X, "p": c.P, "level": level,
			"var_ratio": c.VarRatio, "deff_raw": c.DeffRaw, "deff": c.Deff, "neff": c.Neff, "lower": c.Lower, "upper": c.Upper,
			"m0": c.M0, "m_weighted": c.MWeighted, "icc_raw": c.ICCRaw, "icc": c.ICC,
			"deff_icc": c.DeffICC, "neff_icc": c.NeffICC, "lower_icc": c.LowerICC, "upper_icc": c.UpperICC,
			"neff_kg": c.NeffKG, "lower_kg": c.LowerKG, "upper_kg": c.UpperKG,
			"lower_unadj": c.LowerUnadj, "upper_unadj": c.UpperUnadj,
			"svyciprop_beta_lower": c.LowerBeta, "svyciprop_beta_upper": c.UpperBeta,
			"icc_shrunk": icc, "deff_shrunk": s.Deff, "neff_shrunk": s.N, "lower_shrunk": s.Lower, "upper_shrunk": s.Upper,
		}
	})
}

func weighted(in *input) (output, error) {
	x, n := clusters(in)
	w := in.listOr("weights", "w")
	icc, level := in.numOr(stats.DefaultICC, "icc"), in.level()
	if half := in.numOr(0, "half_life"); half != 0 && in.err == nil {
		if !(half > 0) || w != nil {
			return nil, fmt.Errorf("give either weights or a half_life above 0")
		}
		// Newest session last, as logged; its weight is 1.
		for i := range n {
			w = append(w, math.Pow(0.5, float64(len(n)-1-i)/half))
		}
	}
	if in.err != nil {
		return nil, in.err
	}
	r, err := stats.Weighted(x, n, w, icc, level)
	return answer(err, func() output {
		return output{"rate": r.Rate, "neff": r.N, "xeff": r.X, "deff": r.Deff, "lower": r.Lower, "upper": r.Upper, "icc": icc, "level": level}
	})
}

func raoScott(in *input) (output, error) {
	var x, n [][]float64
	if v, _, ok := in.get("groups"); ok {
		list, isList := v.([]any)
		if !isList {
			return nil, fmt.Errorf("field %q must be a list of objects", "groups")
		}
		for i, g := range list {
			m, isObject := g.(map[string]any)
			if !isObject {
				return nil, fmt.Errorf("group %d must be an object", i+1)
			}
			sub := &input{values: m, used: map[string]bool{}}
			a, b := clusters(sub)
			if sub.err != nil {
				return nil, fmt.Errorf("group %d: %w", i+1, sub.err)
			}
			x, n = append(x, a), append(n, b)
		}
	} else if in.has("successes1") {
		for i := 1; in.has(fmt.Sprint("successes", i)); i++ {
			x = append(x, in.list(fmt.Sprint("successes", i)))
			n = append(n, in.list(fmt.Sprint("trials", i)))
		}
	} else {
		x, n = in.rows("successes", "x"), in.rows("trials", "n")
	}
	if in.err != nil {
		return nil, in.err
	}
	g, err := stats.RaoScott(x, n)
	return answer(err, func() output {
		return output{"deff": g.Deff, "neff": g.Neff, "yeff": g.Yeff, "chisq": g.ChiSq, "df": g.DF, "p": g.P}
	})
}

func cochranArmitage(in *input) (output, error) {
	x, n := clusters(in)
	s := in.listOr("scores", "score", "s", "t")
	d := in.listOr("deff")
	icc, hasICC := in.numOr(0, "icc"), in.has("icc")
	if in.err != nil {
		return nil, in.err
	}
	if s == nil {
		for i := range n {
			s = append(s, float64(i+1))
		}
	}
	switch {
	case hasICC && d != nil:
		return nil, fmt.Errorf("give either deff or icc")
	case hasICC && !(icc >= 0 && icc <= 1):
		return nil, fmt.Errorf("icc must lie between 0 and 1; it is %v", icc)
	case hasICC:
		for _, m := range n {
			d = append(d, 1+icc*math.Max(0, m-1))
		}
	case len(d) == 1:
		for len(d) < len(n) {
			d = append(d, d[0])
		}
	}
	r, err := stats.CochranArmitage(x, n, s, d)
	return answer(err, func() output {
		chi := stats.Number{}
		if r.Z.OK {
			chi = stats.Some(r.Z.V * r.Z.V)
		}
		return output{"z": r.Z, "chisq": chi, "p_increasing": r.PIncreasing, "p_decreasing": r.PDecreasing, "p_two_sided": r.PTwoSided,
			"rate": r.Rate, "neff": r.NEffective, "numerator": r.Numerator, "variance": r.Variance}
	})
}

func binomial(in *input) (output, error) {
	k, n, p := in.whole("k", "x"), in.whole("n"), in.num("p")
	if in.err != nil {
		return nil, in.err
	}
	le, ge, err := stats.BinomialTail(k, n, p)
	return answer(err, func() output { return output{"p_at_most": le, "p_at_least": ge} })
}

func betaQuantile(in *input) (output, error) {
	q, a, b := in.num("q"), in.num("a"), in.num("b")
	if in.err != nil {
		return nil, in.err
	}
	v, err := stats.BetaQuantile(q, a, b)
	return answer(err, func() output { return output{"quantile": v} })
}

func mannKendall(in *input) (output, error) {
	if !in.has("y", "values") && in.has("S", "s") {
		n, s := in.whole("n"), in.num("S", "s")
		if in.err != nil {
			return nil, in.err
		}
		up, two, err := stats.KendallTail(n, s)
		return answer(err, func() output { return output{"n": n, "S": s, "p_upper": up, "p_two_sided": two} })
	}
	t, y, level := in.listOr("t", "times", "x"), in.list("y", "values"), in.level()
	if in.err != nil {
		return nil, in.err
	}
	m, err := stats.MannKendall(t, y)
	if err != nil {
		return nil, err
	}
	o := output{}
	if f, err := stats.TheilSen(t, y, level); err == nil {
		o = sen(f, level)
	} else if len(y) > 1 && !distinct(t) {
		o = output{"sen_slope": nil, "n_slopes": 0}
	}
	exact, perm := m.PExact, stats.Number{}
	if m.Ties {
		exact, perm = stats.Number{}, m.PExact
	}
	o["n"], o["S"], o["varS"], o["tau_b"], o["z"] = m.N, m.S, m.VarS, m.TauB, m.Z
	o["p_normal_cc"] = m.PNormal
	if !m.Z.OK {
		o["p_normal_cc"] = nil
	}
	o["p_exact"], o["p_perm_ties"] = exact, perm
	o["p_two_sided"], o["p_increasing"], o["p_decreasing"], o["exact"] = m.PTwoSided, m.PIncreasing, m.PDecreasing, m.Exact
	return o, nil
}

func distinct(t []float64) bool {
	for _, v := range t {
		if v != t[0] {
			return true
		}
	}
	return t == nil
}

func sen(f stats.TheilSenFit, level float64) output {
	clamped := 0
	if f.Clamped {
		clamped = 1
	}
	return output{"sen_slope": f.Slope, "intercept_separate": f.InterceptSeparate, "intercept_joint": f.InterceptJoint,
		"ci_level": level, "n_slopes": f.NSlopes, "sen_lower_rank": f.LowerRank, "sen_upper_rank": f.UpperRank,
		"sen_lower_interp": f.LowerInterp, "sen_upper_interp": f.UpperInterp, "sen_ci_clamped": clamped}
}

func theilSen(in *input) (output, error) {
	t, y, level := in.listOr("t", "times", "x"), in.list("y", "values"), in.level()
	if in.err != nil {
		return nil, in.err
	}
	f, err := stats.TheilSen(t, y, level)
	return answer(err, func() output {
		o := sen(f, level)
		o["n"] = len(y)
		return o
	})
}

func survival(in *input) (*stats.Survival, error) {
	t, e := in.list("times", "time", "t"), in.flags("status", "event", "events")
	if in.err != nil {
		return nil, in.err
	}
	return stats.KaplanMeier(t, e)
}

var transforms = []struct {
	name string
	tr   stats.Transform
}{{"plain", stats.Plain}, {"log", stats.Log}, {"loglog", stats.LogLog}}

func kaplanMeier(in *input) (output, error) {
	s, err := survival(in)
	if err != nil {
		return nil, err
	}
	level := in.level()
	last := s.Points[len(s.Points)-1].Time
	tau := in.numOr(last, "tau")
	at := in.listOr("at", "at_times")
	withCurve := in.str("yes", "curve_wanted") != "no"
	if in.err != nil {
		return nil, in.err
	}
	o := output{"n": s.N, "events": s.Events, "level": level}
	first, mid := s.Median()
	o["median_first_time"], o["median_midpoint"] = first, mid
	for _, q := range []struct {
		name string
		q    float64
	}{{"quartile1", 0.25}, {"quartile3", 0.75}} {
		_, m := s.Quantile(q.q)
		o[q.name] = m
	}
	for _, tr := range transforms {
		lo, hi, err := s.QuantileLimits(0.5, level, tr.tr)
		if err != nil {
			return nil, err
		}
		o["med_lower_"+tr.name], o["med_upper_"+tr.name] = lo, hi
	}
	o["tau"], o["rmean_tau"], o["se_rmean_tau"] = tau, nil, nil
	if tau > 0 {
		m, se, err := s.RestrictedMean(tau)
		if err != nil {
			return nil, err
		}
		o["rmean_tau"], o["se_rmean_tau"] = m, se
	} else if in.has("tau") {
		return nil, fmt.Errorf("tau must be above 0; it is %v", tau)
	}
	if withCurve {
		curve := make([]output, 0, len(s.Points))
		for i, p := range s.Points {
			row := output{"time": p.Time, "n_risk": p.AtRisk, "n_event": p.Events, "n_censor": p.Censored, "surv": p.Surv, "se_greenwood": p.SE}
			for _, tr := range transforms {
				lo, hi, err := s.Limits(i, level, tr.tr)
				if err != nil {
					return nil, err
				}
				row["lower_"+tr.name], row["upper_"+tr.name] = lo, hi
			}
			curve = append(curve, row)
		}
		o["curve"] = curve
	}
	if at != nil {
		rows := make([]output, 0, len(at))
		for _, t := range at {
			row := output{"time": t}
			for _, tr := range transforms {
				a, err := s.At(t, level, tr.tr)
				if err != nil {
					return nil, err
				}
				row["surv"], row["se_greenwood"] = a.Surv, a.SE
				row["lower_"+tr.name], row["upper_"+tr.name] = a.Lower, a.Upper
				row["neff"], row["lower_wilson"], row["upper_wilson"] = a.Neff, a.WilsonLower, a.WilsonUpper
			}
			rows = append(rows, row)
		}
		o["at"] = rows
	}
	return o, nil
}

func restrictedMean(in *input) (output, error) {
	s, err := survival(in)
	if err != nil {
		return nil, err
	}
	tau := in.numOr(s.Points[len(s.Points)-1].Time, "tau")
	if in.err != nil {
		return nil, in.err
	}
	m, se, err := s.RestrictedMean(tau)
	return answer(err, func() output { return output{"tau": tau, "rmst": m, "se": se} })
}

func logRank(in *input) (output, error) {
	var t1, t2 []float64
	var e1, e2 []bool
	if in.has("group", "groups") {
		t, e := in.list("times", "time", "t"), in.flags("status", "event", "events")
		g, names := in.labels("group", "groups")
		if in.err != nil {
			return nil, in.err
		}
		if len(names) != 2 || len(g) != len(t) || len(e) != len(t) {
			return nil, fmt.Errorf("times, status and group must have one length, and group two different values")
		}
		for i := range t {
			if g[i] == 0 {
				t1, e1 = append(t1, t[i]), append(e1, e[i])
			} else {
				t2, e2 = append(t2, t[i]), append(e2, e[i])
			}
		}
	} else {
		t1, e1 = in.list("times1"), in.flags("status1", "event1")
		t2, e2 = in.list("times2"), in.flags("status2", "event2")
	}
	if in.err != nil {
		return nil, in.err
	}
	r, err := stats.LogRank(t1, e1, t2, e2)
	return answer(err, func() output {
		return output{"O1": r.O1, "E1": r.E1, "O2": r.O2, "E2": r.E2, "var": r.Var, "chisq": r.ChiSq, "p": r.P}
	})
}

func poisson(in *input) (output, error) {
	c, e, level := in.num("count", "x", "events"), in.numOr(1, "exposure", "T", "t", "time", "minutes"), in.level()
	if in.err != nil {
		return nil, in.err
	}
	r, err := stats.Garwood(c, e, level)
	return answer(err, func() output {
		return output{"count": c, "exposure": e, "level": level, "rate": r.Rate, "lower": r.Lower, "upper": r.Upper}
	})
}

func poissonCompare(in *input) (output, error) {
	x1, t1 := in.num("x1", "count1"), in.num("t1", "T1", "exposure1")
	x2, t2, level := in.num("x2", "count2"), in.num("t2", "T2", "exposure2"), in.level()
	if in.err != nil {
		return nil, in.err
	}
	c, err := stats.CompareRates(x1, t1, x2, t2, level)
	return answer(err, func() output {
		return output{"rate_ratio": c.RateRatio, "p_two_minlik": c.PTwoMinLik, "p_two_doubled": c.PTwoDoubled, "p_greater": c.PGreater,
			"p_less": c.PLess, "p_mid_doubled": c.PMidDoubled, "rr_lower": c.RRLower, "rr_upper": c.RRUpper, "level": level}
	})
}

func fisher(in *input) (output, error) {
	var a, b, c, d float64
	if in.has("table") {
		rows := in.rows("table")
		if in.err == nil && (len(rows) != 2 || len(rows[0]) != 2 || len(rows[1]) != 2) {
			return nil, fmt.Errorf("field %q must be [[a, b], [c, d]]", "table")
		}
		if in.err == nil {
			a, b, c, d = rows[0][0], rows[0][1], rows[1][0], rows[1][1]
		}
	} else {
		a, b, c, d = in.num("a"), in.num("b"), in.num("c"), in.num("d")
	}
	level := in.level()
	if in.err != nil {
		return nil, in.err
	}
	f, err := stats.Fisher(a, b, c, d, level)
	return answer(err, func() output {
		return output{
			"p_less": f.PLess, "p_greater": f.PGreater, "p_two_minlik": f.PTwoMinLik, "p_two_doubled": f.PTwoDoubled,
			"midp_less": f.MidPLess, "midp_greater": f.MidPGreater, "midp_two_minlik_alleq": f.MidPTwoMinLikAllEq,
			"midp_two_minlik_obs": f.MidPTwoMinLikObs, "midp_two_doubled": f.MidPTwoDoubled,
			"or_cond_mle": f.ORCondMLEAsR, "or_lower": f.ORLowerAsR, "or_upper": f.ORUpperAsR,
			"or_cond_mle_exact": f.ORCondMLE, "or_lower_exact": f.ORLower, "or_upper_exact": f.ORUpper, "level": level,
		}
	})
}

func kappa(in *input) (output, error) {
	var table [][]float64
	switch {
	case in.has("table_rowmajor"):
		cells := in.list("table_rowmajor")
		k := int(math.Sqrt(float64(len(cells))) + 0.5)
		k = in.wholeOr(k, "k")
		if k < 1 || k > 10_000 || k*k != len(cells) {
			return nil, fmt.Errorf("table_rowmajor has %d cells, which is not k x k for k = %d", len(cells), k)
		}
		for i := range k {
			table = append(table, cells[i*k:(i+1)*k])
		}
	default:
		table = in.rows("table", "counts")
	}
	level := in.level()
	if in.err != nil {
		return nil, in.err
	}
	a, err := stats.Kappa(table, level)
	return answer(err, func() output {
		return output{"k": len(table), "n": a.N, "agree": a.Agree, "agree_wilson_lower": a.AgreeLower, "agree_wilson_upper": a.AgreeUpper,
			"expected": a.Expected, "kappa": a.Kappa, "se_asymptotic": a.SE, "se_null": a.SENull, "se_cohen1960": a.SECohen1960,
			"lower": a.Lower, "upper": a.Upper, "level": level}
	})
}

func sprt(in *input) (output, error) {
	p0, p1, alpha, beta := in.num("p0"), in.num("p1"), in.num("alpha"), in.num("beta")
	if in.err != nil {
		return nil, in.err
	}
	s, err := stats.WaldSPRT(p0, p1, alpha, beta)
	return answer(err, func() output {
		return output{
			"h1_accept": s.H1, "h2_reject": s.H2, "slope": s.Slope,
			"n_accept_zero_failures": s.NAcceptZeroFailures, "n_accept_one_failure": s.NAcceptOneFailure,
			"min_reject_all_failures": s.MinRejectAllFailures,
			"exact_accept_at_p0":      s.AtP0.Accept, "exact_reject_at_p0": s.AtP0.Reject, "exact_asn_p0": s.AtP0.ASN,
			"exact_accept_at_p1": s.AtP1.Accept, "exact_reject_at_p1": s.AtP1.Reject, "exact_asn_p1": s.AtP1.ASN,
			"llr_per_success": s.LLRPerSuccess, "llr_per_failure": s.LLRPerFailure, "upper_llr": s.UpperLLR, "lower_llr": s.LowerLLR,
		}
	})
}

func successRun(in *input) (output, error) {
	r, c, f := in.num("reliability", "R"), in.num("confidence", "C", "level"), in.wholeOr(0, "failures_allowed", "failures", "f")
	if in.err != nil {
		return nil, in.err
	}
	s, err := stats.SuccessRunSize(r, c, f)
	return answer(err, func() output {
		return output{"n": s.N, "confidence_at_n": s.ConfidenceAtN, "confidence_at_n_minus_1": s.ConfidenceAtNMinus1}
	})
}

func cusum(in *input) (output, error) {
	o := output{}
	var b stats.BernoulliCUSUM
	p0, p1 := 0.0, 0.0
	rates := in.has("p0") || in.has("p1")
	if rates {
		p0, p1 = in.num("p0"), in.num("p1")
	}
	if in.err != nil {
		return nil, in.err
	}
	if rates {
		g, err := stats.Reference(p0, p1)
		if err != nil {
			return nil, err
		}
		o["gamma_exact"] = g
		if !in.has("gamma_num", "gamma_den") {
			// The usual rounding: one over a whole number.
			b.Num, b.Den = 1, max(2, int(math.Round(math.Min(1e9, 1/g))))
		}
	}
	if b.Den == 0 {
		b.Num, b.Den = in.whole("gamma_num"), in.whole("gamma_den")
	}
	if in.err != nil {
		return nil, in.err
	}
	switch {
	case in.has("h_units"):
		b.H = in.whole("h_units")
		in.get("h", "threshold")
	default:
		h := in.num("h", "threshold")
		if units := h * float64(b.Den); in.err == nil {
			if !(units > 0 && units <= 1e9) {
				return nil, fmt.Errorf("h must be above 0 and not huge; it is %v", h)
			}
			b.H = int(math.Ceil(units - 1e-9))
		}
	}
	if in.err != nil {
		return nil, in.err
	}
	if err := b.Check(); err != nil {
		return nil, err
	}
	o["gamma_num"], o["gamma_den"], o["h_units"] = b.Num, b.Den, b.H
	o["gamma_used"], o["h"] = float64(b.Num)/float64(b.Den), float64(b.H)/float64(b.Den)
	if in.has("x", "failures") {
		units, first, err := b.Path(in.flags("x", "failures"))
		if in.err != nil || err != nil {
			return nil, firstOf(in.err, err)
		}
		o["path_units"], o["first_signal"] = units, nil
		if first > 0 {
			o["first_signal"] = first
		}
	}
	arl := func(key string, p float64) error {
		v, err := b.RunLength(p)
		o[key] = v
		return err
	}
	if rates {
		if err := firstOf(arl("arl_p0", p0), arl("arl_p1", p1)); err != nil {
			return nil, err
		}
		o["arl_p0_x1.5"] = nil
		if 1.5*p0 <= 1 {
			if err := arl("arl_p0_x1.5", 1.5*p0); err != nil {
				return nil, err
			}
		}
	}
	if in.has("p") {
		list := []stats.Number{}
		for _, p := range in.list("p") {
			v, err := b.RunLength(p)
			if err != nil {
				return nil, err
			}
			list = append(list, v)
		}
		o["arl"] = list
		if len(list) == 1 {
			o["arl"] = list[0]
		}
	}
	return o, in.err
}

func firstOf(errs ...error) error {
	for _, e := range errs {
		if e != nil {
			return e
		}
	}
	return nil
}

func sessionCUSUM(in *input) (output, error) {
	x := in.flags("x", "failures")
	session, _ := in.labels("session", "sessions")
	c := stats.SessionCUSUM{P0: in.numOr(0.08, "p0"), P1: in.numOr(0.35, "p1"), ICC: in.numOr(stats.DefaultICC, "icc")}
	h := in.numOr(4.5, "h", "threshold")
	if in.err != nil {
		return nil, in.err
	}
	path, err := c.Path(x, session, h)
	return answer(err, func() output {
		inc, stat := make([]float64, len(path)), make([]float64, len(path))
		o := output{"increments": inc, "statistic": stat, "first_signal": nil, "since": nil}
		for i, p := range path {
			inc[i], stat[i] = p.Increment, p.Statistic
			if p.Alarm && o["first_signal"] == nil {
				o["first_signal"], o["since"] = i+1, p.Since+1
			}
		}
		return o
	})
}

// interceptTerm is the name of the intercept, as R has it.
const interceptTerm = "(Intercept)"

// design reads predictors as rows, as a plain list, or as columns, and adds an
// intercept where none stands.
func design(in *input, rows int) (x [][]float64, terms []string) {
	v, name, ok := in.get("x", "X", "predictors")
	flat := false
	if ok {
		list, isList := v.([]any)
		nested := false
		if isList && len(list) > 0 {
			switch first := list[0].(type) {
			case []any:
				nested = true
			case string:
				nested = strings.ContainsAny(first, ";, ")
			}
		}
		if nested {
			x = in.rows(name)
			if len(x) != rows && len(x) > 0 && len(x[0]) == rows { // columns
				t := make([][]float64, rows)
				for i := range t {
					for _, c := range x {
						if len(c) != rows {
							in.fail("field %q has columns of different lengths", name)
							return nil, nil
						}
						t[i] = append(t[i], c[i])
					}
				}
				x = t
			}
		} else {
			flat = true
			for _, f := range in.list(name) {
				x = append(x, []float64{f})
			}
		}
	} else {
		x = make([][]float64, rows)
	}
	hasOnes := false
	if !flat && len(x) > 0 {
		for j := range x[0] {
			ones := true
			for _, r := range x {
				ones = ones && j < len(r) && r[j] == 1
			}
			hasOnes = hasOnes || ones
		}
	}
	switch names, _, _ := in.get("terms"); names := names.(type) {
	case string:
		terms = strings.Split(names, ";")
	case []any:
		for _, n := range names {
			terms = append(terms, fmt.Sprint(n))
		}
	}
	named := slices.Contains(terms, interceptTerm) && len(x) > 0 && len(terms) == len(x[0])
	add := !hasOnes && !named
	if b, _, ok := in.get("intercept"); ok {
		add, ok = b.(bool)
		if !ok {
			in.fail("field %q must be true or false", "intercept")
		}
	}
	if add {
		for i, r := range x {
			x[i] = append([]float64{1}, r...)
		}
		if len(x) > 0 && len(terms) == len(x[0])-1 {
			terms = append([]string{interceptTerm}, terms...)
		}
	}
	if len(x) > 0 && len(terms) != len(x[0]) {
		terms = nil
		for j := range x[0] {
			switch {
			case j == 0 && (add || hasOnes && x[0][0] == 1):
				terms = append(terms, interceptTerm)
			case len(x[0]) == 2 && (add || hasOnes):
				terms = append(terms, "x")
			default:
				terms = append(terms, fmt.Sprint("x", j+1))
			}
		}
	}
	return x, terms
}

func logistic(in *input) (output, error) {
	y := in.list("y", "successes")
	n, w := in.listOr("n", "trials"), in.listOr("weights", "w")
	if in.err != nil {
		return nil, in.err
	}
	x, terms := design(in, len(y))
	d := stats.LogisticData{X: x, Y: y, N: n, W: w}
	k := len(terms)
	mean, sd := in.listOr("prior_mean"), in.listOr("prior_sd")
	ridge := in.numOr(0, "ridge")
	if in.err != nil {
		return nil, in.err
	}
	switch {
	case ridge < 0 || math.IsNaN(ridge) || math.IsInf(ridge, 0):
		return nil, fmt.Errorf("ridge must be a finite number of at least 0; it is %v", ridge)
	case ridge > 0 && sd != nil:
		return nil, fmt.Errorf("give either ridge or prior_sd")
	case ridge > 0:
		d.Prior = make([]stats.NormalPrior, k)
		for j, t := range terms {
			if t != interceptTerm {
				d.Prior[j].SD = 1 / math.Sqrt(ridge)
			}
		}
	case sd != nil:
		if len(sd) != k || mean != nil && len(mean) != k {
			return nil, fmt.Errorf("prior_mean and prior_sd need %d values, one for each coefficient", k)
		}
		d.Prior = make([]stats.NormalPrior, k)
		for j := range d.Prior {
			d.Prior[j].SD = sd[j]
			if mean != nil {
				d.Prior[j].Mean = mean[j]
			}
		}
	case mean != nil:
		return nil, fmt.Errorf("prior_mean needs prior_sd")
	}
	f, err := stats.Logistic(d)
	return answer(err, func() output {
		z, p := make([]float64, k), make([]float64, k)
		for j := range z {
			z[j] = f.Coef[j] / f.SE[j]
			p[j] = math.Erfc(math.Abs(z[j]) / math.Sqrt2)
		}
		return output{"terms": terms, "estimate": f.Coef, "se": f.SE, "z": z, "p": p, "cov": f.Cov,
			"deviance": f.Deviance, "null_deviance": f.NullDeviance, "df_resid": f.DFResid, "loglik": f.LogLik,
			"pearson_chi2": f.Pearson, "iterations": f.Iterations}
	})
}

func logLinear(in *input) (output, error) {
	x, y, n := in.rows("x", "X"), in.list("y", "successes"), in.listOr("n", "trials")
	if in.err != nil {
		return nil, in.err
	}
	f, err := stats.LogLinear(x, y, n)
	return answer(err, func() output {
		factor := make([]float64, len(f.Coef))
		for j, b := range f.Coef {
			factor[j] = math.Exp(b)
		}
		return output{"estimate": f.Coef, "se": f.SE, "factor": factor, "loglik": f.LogLik}
	})
}

func betaBinomial(in *input) (output, error) {
	x, n := clusters(in)
	if in.err != nil {
		return nil, in.err
	}
	f, err := stats.BetaBinomial(x, n)
	return answer(err, func() output {
		return output{"p_pooled": f.PPooled, "icc_anova": f.ICCANOVA, "pearson_chi2": f.Pearson, "df": f.DF,
			"mu": f.Mu, "rho": f.Rho, "theta": f.Theta, "alpha": f.Alpha, "beta": f.Beta, "se_mu": f.SEMu, "se_rho": f.SERho,
			"loglik": f.LogLik, "loglik_binomial": f.LogLikBinomial, "lrt": f.LRT, "lrt_p_half": f.LRTPHalf}
	})
}

func randomIntercept(in *input) (output, error) {
	y := in.list("y", "successes")
	n := in.listOr("n", "trials")
	group, labels := in.labels("group", "groups", "cluster")
	if in.err != nil {
		return nil, in.err
	}
	x, terms := design(in, len(y))
	nodes := in.wholeOr(0, "nodes", "nAGQ")
	if nodes == 0 {
		switch m := in.str("laplace", "method"); m {
		case "laplace":
			nodes = 1
		case "agq25":
			nodes = 25
		default:
			return nil, fmt.Errorf("method must be laplace or agq25; it is %q", m)
		}
	} else {
		in.get("method")
	}
	if in.err != nil {
		return nil, in.err
	}
	f, err := stats.RandomIntercept(x, y, n, group, nodes)
	return answer(err, func() output {
		mode, sd := []float64{}, []float64{}
		for _, m := range f.Modes {
			mode, sd = append(mode, m.Mode), append(sd, m.SD)
		}
		return output{"terms": terms, "estimate": f.Coef, "se": f.SE, "se_given_sd": f.SEGivenSD, "sd_group": f.SD, "se_sd_group": f.SESD,
			"loglik": f.LogLik, "groups": labels, "mode": mode, "cond_sd": sd}
	})
}

func adjusted(in *input, which string) (output, error) {
	p := in.list("p", "p_values")
	if in.err != nil {
		return nil, in.err
	}
	h, err1 := stats.Holm(p)
	b, err2 := stats.BenjaminiHochberg(p)
	f, err3 := stats.Bonferroni(p)
	return answer(firstOf(err1, err2, err3), func() output {
		o := output{"holm": h, "bh": b, "bonferroni": f}
		o["adjusted"] = o[which]
		return o
	})
}

func holm(in *input) (output, error) { return adjusted(in, "holm") }

func benjaminiHochberg(in *input) (output, error) { return adjusted(in, "bh") }
