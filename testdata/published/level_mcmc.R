# Markov chain Monte Carlo for the model of package model, as a check of its filter.
#
#   Rscript level_mcmc.R [sweeps] [first stay] [last stay]
#
# writes 14_level_sittings.csv (30 invented stays) and, for each stay, what a long
# Metropolis run says of the level after the last sitting: 14_level_mcmc.csv.
# Plain R, no packages.
#
# The level is kept as its start and its steps; a step is N(0, .10^2) or, with the
# chance of a jump, N(0, 1.5^2). Moves: a step alone, a step drawn anew, two
# neighbouring steps against each other, two neighbouring steps exchanged, every
# effect alone, and the start against all people, all places or the cold effect.
# Two chains from different starts; rhat is that of Gelman and Rubin (1992).

prior <- list(start = .5, startsd = 1.8, step = .10, jump = 1.5, night = .06, day = .01,
              spread = .7, cell = .35, cold = .7, likeness = .10)
people <- c("ana", "bram", "owner")
places <- c("yard", "meadow", "square")

# One invented stay: sittings in order.
stay <- function(i) {
  set.seed(1000 + i)
  n <- c(6, 12, 20, 30, 40)[1 + i %% 5]
  kind <- i %% 6
  level <- switch(kind + 1, rep(.95, n), rep(.80, n), c(rep(.5, n %/% 2), rep(.95, n - n %/% 2)),
                  seq(.4, .95, length.out = n), c(rep(.95, n - 4), rep(.65, 4)), rep(.88, n))
  weak <- if (i %% 4 == 3) -1.5 else 0
  out <- data.frame()
  for (k in seq_len(n)) {
    who <- sample(people, 1, prob = if (k < 4) c(1, 0, 0) else c(.6, .25, .15))
    where <- sample(places, 1, prob = c(.5, .3, .2))
    m <- sample(2:10, 1)
    eta <- qlogis(level[k]) + if (who == "bram") weak else 0
    tt <- (1 - prior$likeness) / prior$likeness
    p <- rbeta(1, plogis(eta) * tt, (1 - plogis(eta)) * tt)
    tally <- runif(1) < .1
    first <- if (tally) "" else if (runif(1) < p) "yes" else "no"
    of <- if (tally) m else m - 1
    out <- rbind(out, data.frame(stay = i, night = as.integer(k > 1 && runif(1) < .5), person = who, place = where,
                                 first = first, yes = rbinom(1, of, p), of = of))
  }
  out
}

run <- function(d, sweeps, seed, from) {
  set.seed(seed)
  n <- nrow(d)
  who <- match(d$person, people); where <- match(d$place, places)
  has <- d$first != ""; f <- as.numeric(d$first == "yes")
  f0 <- ifelse(has, f, 0); f1 <- ifelse(has, 1 - f, 0)
  chance <- ifelse(d$night == 1, prior$night, prior$day)[-1]
  tt <- (1 - prior$likeness) / prior$likeness

  start <- from; step <- rnorm(n - 1, 0, .05); u <- rep(0, 3); v <- rep(0, 3); cell <- matrix(0, 3, 3); cold <- 0
  tried <- matrix(FALSE, 3, 3); tried[cbind(who, where)] <- TRUE
  at <- cbind(who, where)

  like <- function(start, step, u, v, cell, cold) {
    eta <- start + c(0, cumsum(step)) + u[who] + v[where] + cell[at]
    p <- plogis(eta)
    sum(ifelse(has, ifelse(f == 1, plogis(eta + cold, log.p = TRUE), plogis(-eta - cold, log.p = TRUE)), 0) +
          lbeta(p * tt + f0 + d$yes, (1 - p) * tt + f1 + d$of - d$yes) - lbeta(p * tt + f0, (1 - p) * tt + f1))
  }
  lstep <- function(s, k) log((1 - chance[k]) * dnorm(s, 0, prior$step) + chance[k] * dnorm(s, 0, prior$jump))
  now <- like(start, step, u, v, cell, cold)
  wp <- tabulate(who, 3) / n; wl <- tabulate(where, 3) / n
  burn <- sweeps %/% 10
  keep <- matrix(NA_real_, sweeps, 3)
  for (s in seq_len(sweeps + burn)) {
    for (k in seq_len(n - 1)) {
      # a little, or anew from the prior
      new <- step
      if (runif(1) < .5) {
        new[k] <- step[k] + rnorm(1, 0, if (runif(1) < .5) .12 else .8)
        more <- lstep(new[k], k) - lstep(step[k], k)
      } else {
        new[k] <- rnorm(1, 0, if (runif(1) < .5) prior$step else prior$jump)
        q <- function(x) log(.5 * dnorm(x, 0, prior$step) + .5 * dnorm(x, 0, prior$jump))
        more <- lstep(new[k], k) - lstep(step[k], k) + q(step[k]) - q(new[k])
      }
      l <- like(start, new, u, v, cell, cold)
      if (log(runif(1)) < l - now + more) { step <- new; now <- l }
      if (k < n - 1) { # against the next, or exchanged with it
        new <- step
        if (runif(1) < .5) {
          x <- rnorm(1, 0, if (runif(1) < .5) .12 else .8); new[k] <- step[k] + x; new[k + 1] <- step[k + 1] - x
        } else new[c(k, k + 1)] <- step[c(k + 1, k)]
        more <- lstep(new[k], k) - lstep(step[k], k) + lstep(new[k + 1], k + 1) - lstep(step[k + 1], k + 1)
        l <- like(start, new, u, v, cell, cold)
        if (log(runif(1)) < l - now + more) { step <- new; now <- l }
      }
    }
    new <- start + rnorm(1, 0, .6); l <- like(new, step, u, v, cell, cold)
    if (log(runif(1)) < l - now + dnorm(new, prior$start, prior$startsd, log = TRUE) - dnorm(start, prior$start, prior$startsd, log = TRUE)) { start <- new; now <- l }
    if (n > 1) { # start against the first step
      x <- rnorm(1, 0, .6); a <- start + x; b <- step; b[1] <- b[1] - x
      l <- like(a, b, u, v, cell, cold)
      if (log(runif(1)) < l - now + dnorm(a, prior$start, prior$startsd, log = TRUE) - dnorm(start, prior$start, prior$startsd, log = TRUE) +
            lstep(b[1], 1) - lstep(step[1], 1)) { start <- a; step <- b; now <- l }
    }
    new <- cold + rnorm(1, 0, .6); l <- like(start, step, u, v, cell, new)
    if (log(runif(1)) < l - now + dnorm(new, 0, prior$cold, log = TRUE) - dnorm(cold, 0, prior$cold, log = TRUE)) { cold <- new; now <- l }
    for (k in 1:3) {
      new <- u; new[k] <- u[k] + rnorm(1, 0, .6); l <- like(start, step, new, v, cell, cold)
      if (log(runif(1)) < l - now + sum(dnorm(new, 0, prior$spread, log = TRUE) - dnorm(u, 0, prior$spread, log = TRUE))) { u <- new; now <- l }
      new <- v; new[k] <- v[k] + rnorm(1, 0, .6); l <- like(start, step, u, new, cell, cold)
      if (log(runif(1)) < l - now + sum(dnorm(new, 0, prior$spread, log = TRUE) - dnorm(v, 0, prior$spread, log = TRUE))) { v <- new; now <- l }
      for (j in 1:3) {
        new <- cell
        if (!tried[k, j]) { cell[k, j] <- rnorm(1, 0, prior$cell); next }
        new[k, j] <- cell[k, j] + rnorm(1, 0, .5); l <- like(start, step, u, v, new, cold)
        if (log(runif(1)) < l - now + dnorm(new[k, j], 0, prior$cell, log = TRUE) - dnorm(cell[k, j], 0, prior$cell, log = TRUE)) { cell <- new; now <- l }
      }
    }
    # the start against all people, and against all places: the likelihood stays
    for (which in 1:2) {
      x <- rnorm(1, 0, .5); a <- start + x
      old <- if (which == 1) u else v; new <- old - x
      if (log(runif(1)) < dnorm(a, prior$start, prior$startsd, log = TRUE) - dnorm(start, prior$start, prior$startsd, log = TRUE) +
            sum(dnorm(new, 0, prior$spread, log = TRUE) - dnorm(old, 0, prior$spread, log = TRUE))) {
        start <- a; if (which == 1) u <- new else v <- new
      }
    }
    if (s > burn) {
      level <- start + sum(step)
      mean <- level + sum(wp * u) + sum(wl * v) + sum(outer(wp, wl) * cell)
      keep[s - burn, ] <- c(mean, mean + cold, level + u[2] + sum(wl * v) + sum(wl * cell[2, ]))
    }
  }
  keep
}

args <- as.integer(commandArgs(TRUE))
sweeps <- if (length(args) > 0) args[1] else 20000
first <- if (length(args) > 1) args[2] else 1
last <- if (length(args) > 2) args[3] else 30
head <- paste0("# ", R.version.string, ", level_mcmc.R, 2 chains of ", sweeps, " sweeps after ", sweeps %/% 10, " of burn-in")
part <- if (length(args) > 1) paste0("-", first) else ""
sittings <- do.call(rbind, lapply(first:last, stay))
out <- data.frame()
for (i in first:last) {
  d <- sittings[sittings$stay == i, ]
  a <- run(d, sweeps, i, 2); b <- run(d, sweeps, 500 + i, -1)
  half <- nrow(a)
  w <- mean(c(var(a[, 1]), var(b[, 1]))); between <- half * var(c(mean(a[, 1]), mean(b[, 1])))
  x <- rbind(a, b)
  q <- plogis(quantile(x[, 1], c(.025, .5, .975)))
  out <- rbind(out, data.frame(stay = i, p85 = mean(x[, 1] >= qlogis(.85)), low = q[1], median = q[2], high = q[3],
                               first80 = mean(x[, 2] >= qlogis(.80)), bram80 = mean(x[, 3] >= qlogis(.80)),
                               rhat = sqrt(((half - 1) / half * w + between / half) / w)))
}
write <- function(d, name) {
  f <- file(name, "w"); writeLines(head, f); write.csv(format(d, digits = 5), f, row.names = FALSE, quote = FALSE); close(f)
}
write(sittings, paste0("14_level_sittings", part, ".csv"))
write(out, paste0("14_level_mcmc", part, ".csv"))
