// Package stats holds the arithmetic of firstcue: numbers in, numbers out. It
// knows nothing of dogs.
//
// Every function says what it computes, from which source, and what it does at
// the edges. Impossible input (not a number, infinite, negative, more
// successes than trials, nothing at all) is an error for which
// errors.Is(err, ErrInput) holds; no function panics on data, and no result is
// ever NaN: a figure that may be absent is a Number.
//
// Proportions:
//
//	Wilson(x, n, level) Interval
//	Newcombe(x1, n1, x2, n2, level) Difference
//	Cluster(x, n, level) Clustered              every effective-size form
//	ShrunkICC(x, n, prior, weight) (icc, raw)   the one the report prints
//	Weighted(x, n, w, icc, level) EffectiveRate fading or plain, fixed correlation
//	RaoScott(successes, trials) GroupTest
//	CochranArmitage(x, n, scores, deff) LinearTrend
//	BinomialTail(k, n, p) (atMost, atLeast), BetaQuantile(q, a, b)
//	SuccessRunSize(reliability, confidence, failures), WaldSPRT(p0, p1, alpha, beta)
//
// Trends: MannKendall(t, y), KendallTail(n, s), TheilSen(t, y, level).
//
// Times: KaplanMeier(times, event) *Survival with Median, MedianLimits,
// Quantile, QuantileLimits, Limits, At, RestrictedMean; LogRank.
//
// Rates: Garwood(count, exposure, level), CompareRates(x1, t1, x2, t2, level).
// Tables: Fisher(a, b, c, d, level), FisherLess(a, b, c, d), Kappa(counts, level).
//
// Alarms: SessionCUSUM with Increment and Path; BernoulliCUSUM with Path and
// RunLength; Reference(p0, p1).
//
// Models: Logistic(LogisticData) with weights and priors, LogLinear(x, y, n),
// BetaBinomial(x, n), RandomIntercept(x, y, n, group, nodes).
//
// Many tests: Holm(p), BenjaminiHochberg(p), Bonferroni(p).
package stats
