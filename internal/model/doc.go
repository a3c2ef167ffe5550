// Package model is one model of how likely something is answered that moves while
// it is being learned. It takes counts and gives probabilities; it knows no clock,
// no file and no words.
//
// On the logit scale the chance that an ask is answered is
//
//	level + person + place + leash + distraction + person at place + (first ask? cold)
//
// The level moves from one sitting to the next, mostly by a small step and now and
// then by a jump. The other effects stay as they are and are drawn to zero until
// the asks say otherwise (partial pooling). Asks of one sitting are alike: they
// come from a Pólya urn, so their counts are beta-binomial.
//
// What is known is a mixture of at most five normal distributions of the whole
// state. A sitting changes it along the one direction it sees: the likelihood times
// the normal on 25 points gives that direction's new mean and variance, the rest
// follows by regression (assumed-density filtering).
//
// A level in the past is a further part of the state that stands still (see
// [Filter.Mark]), so that smoothing needs no second algorithm.
//
// Breaks a minute in motion are the same model on the log scale with
// negative-binomial counts ([Walk]); holds kept to their target are asks without a
// first one.
//
// Sources: West and Harrison (1997), Bayesian Forecasting and Dynamic Models;
// Harrison and Stevens (1976), Journal of the Royal Statistical Society B 38:205
// (jumps as a mixture); Minka (2001), PhD thesis, MIT (assumed-density filtering);
// Gelman and Hill (2007), Data Analysis Using Regression and Multilevel Models
// (partial pooling); Skellam (1948), Journal of the Royal Statistical Society B
// 10:257 (beta-binomial); Harvey (1989), Forecasting, Structural Time Series Models
// and the Kalman Filter, section 3.6.2 (past states as part of the state).
package model
