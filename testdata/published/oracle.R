# Recomputes a sample of cases with base R and the package survival.
#
# Usage: Rscript oracle.R CASES > RESULTS
#
# CASES has one case per line: a kind, then named arguments, parted by tabs;
# an argument is name=values, the values parted by blanks. RESULTS has one line
# per case: name=value, parted by tabs, 17 digits, NA where R has no value.
# The line "time" of the cases asks for running times in milliseconds.

suppressPackageStartupMessages(library(survival))
options(warn = -1)

out <- function(...) {
  v <- list(...)
  words <- vapply(names(v), function(n) {
    x <- as.numeric(v[[n]])
    paste0(n, "=", paste(ifelse(is.na(x), "NA", sprintf("%.17g", x)), collapse = " "))
  }, "")
  cat(words, sep = "\t")
  cat("\n")
}

ms <- function(expr, times = 20) {
  expr <- substitute(expr)
  env <- parent.frame()
  eval(expr, env)
  t0 <- proc.time()[["elapsed"]]
  for (i in seq_len(times)) eval(expr, env)
  1000 * (proc.time()[["elapsed"]] - t0) / times
}

kinds <- list(
  wilson = function(x, n, level) {
    ci <- prop.test(x, n, conf.level = level, correct = FALSE)$conf.int
    out(lower = ci[1], upper = ci[2])
  },
  newcombe = function(x1, n1, x2, n2, level) {
    a <- prop.test(x1, n1, conf.level = level, correct = FALSE)$conf.int
    b <- prop.test(x2, n2, conf.level = level, correct = FALSE)$conf.int
    p1 <- x1 / n1; p2 <- x2 / n2; d <- p1 - p2
    out(lower = d - sqrt((p1 - a[1])^2 + (b[2] - p2)^2), upper = d + sqrt((a[2] - p1)^2 + (p2 - b[1])^2))
  },
  effective = function(x, n, level) {
    k <- length(x); N <- sum(n); p <- sum(x) / N
    v <- k / (k - 1) * sum((x - n * p)^2) / N^2
    msb <- sum(n * (x / n - p)^2) / (k - 1)
    msw <- sum(x * (n - x) / n) / (N - k)
    m0 <- (N - sum(n^2) / N) / (k - 1)
    q <- 1 - (1 - level) / 2
    full <- N / (v / (p * (1 - p) / N)) * (qt(q, N - 1) / qt(q, k - 1))^2
    out(deff_raw = v / (p * (1 - p) / N), icc_raw = (msb - msw) / (msb + (m0 - 1) * msw), neff_kg = min(N, full),
        beta_lower = qbeta((1 - level) / 2, full * p, full * (1 - p) + 1), beta_upper = qbeta(q, full * p + 1, full * (1 - p)))
  },
  trend = function(x, n, s) {
    r <- prop.trend.test(x, n, s)
    out(chisq = r$statistic, p = r$p.value)
  },
  kendall = function(t, y) {
    e <- cor.test(t, y, method = "kendall", exact = TRUE)
    a <- cor.test(t, y, method = "kendall", exact = FALSE, continuity = TRUE)
    ties <- anyDuplicated(t) > 0 || anyDuplicated(y) > 0
    S <- sum(sign(outer(t, t, "-")) * sign(outer(y, y, "-"))) / 2
    out(S = S, tau_b = a$estimate, z = a$statistic, p_exact = if (ties) NA else e$p.value)
  },
  sen = function(t, y) {
    d <- outer(t, t, "-"); s <- (outer(y, y, "-") / d)[lower.tri(d) & d != 0]
    b <- median(s)
    out(slope = b, n_slopes = length(s), separate = median(y) - b * median(t), joint = median(y - b * t))
  },
  km = function(times, status, level) {
    r <- list()
    for (ct in c("plain", "log", "log-log")) {
      f <- survfit(Surv(times, status) ~ 1, conf.type = ct, conf.int = level)
      m <- summary(f)$table # as printed: first crossing, middle of a flat stretch
      nm <- sub("-", "", ct)
      r[[paste0("lower_", nm)]] <- f$lower; r[[paste0("upper_", nm)]] <- f$upper
      r[[paste0("med_lower_", nm)]] <- m[[8]]; r[[paste0("med_upper_", nm)]] <- m[[9]]
    }
    r$time <- f$time; r$n_risk <- f$n.risk; r$n_event <- f$n.event; r$surv <- f$surv; r$se <- f$std.err * f$surv
    r$median <- summary(f)$table[["median"]]
    # quantile() differs from the printed median where the curve stays flat to
    # its end (it takes the middle there too): compare only where it falls again.
    q <- quantile(f, c(0.25, 0.75))$quantile
    flat <- vapply(c(0.75, 0.25), function(s) abs(min(f$surv) - s) < 1e-8, NA)
    r$q25 <- if (flat[1]) -1 else q[1]; r$q75 <- if (flat[2]) -1 else q[2]
    tau <- max(times)
    tab <- survival:::survmean(f, rmean = tau)$matrix
    r$rmean <- tab[["rmean"]]; r$se_rmean <- tab[["se(rmean)"]]
    do.call(out, r)
  },
  logrank = function(times1, status1, times2, status2) {
    g <- rep(1:2, c(length(times1), length(times2)))
    d <- survdiff(Surv(c(times1, times2), c(status1, status2)) ~ g)
    out(E1 = d$exp[1], var = d$var[1, 1], chisq = d$chisq)
  },
  poisson = function(x, t, level) {
    ci <- poisson.test(x, t, conf.level = level)$conf.int
    out(lower = ci[1], upper = ci[2])
  },
  rates = function(x1, t1, x2, t2, level) {
    r <- poisson.test(c(x1, x2), c(t1, t2), conf.level = level)
    out(p = r$p.value, lower = r$conf.int[1], upper = r$conf.int[2],
        greater = poisson.test(c(x1, x2), c(t1, t2), alternative = "greater")$p.value)
  },
  fisher = function(a, b, c, d, level) {
    m <- matrix(c(a, c, b, d), 2)
    r <- fisher.test(m, conf.level = level)
    out(p = r$p.value, less = fisher.test(m, alternative = "less")$p.value,
        greater = fisher.test(m, alternative = "greater")$p.value,
        or = r$estimate, lower = r$conf.int[1], upper = r$conf.int[2])
  },
  logistic = function(y, n, w, x1, x2) {
    f <- glm(cbind(y, n - y) ~ x1 + x2, family = binomial, weights = w,
             control = glm.control(epsilon = 1e-14, maxit = 100))
    s <- summary(f)$coefficients
    out(coef = s[, 1], se = s[, 2], deviance = f$deviance, null = f$null.deviance, cov = as.vector(vcov(f)))
  },
  adjust = function(p) out(holm = p.adjust(p, "holm"), bh = p.adjust(p, "BH")),
  beta = function(q, a, b) out(q = qbeta(q, a, b)),
  binomial = function(k, n, p) out(le = pbinom(k, n, p), ge = pbinom(k - 1, n, p, lower.tail = FALSE)),
  time = function() {
    set.seed(1)
    t <- 1:500; y <- 0.01 * t + rnorm(500)
    mk <- ms(cor.test(t, y, method = "kendall", exact = FALSE))
    sen <- ms({ d <- outer(t, t, "-"); s <- (outer(y, y, "-") / d)[lower.tri(d)]; median(s) }, 5)
    times <- round(rexp(1e5), 3); status <- runif(1e5) < 0.7
    km <- ms(survfit(Surv(times, status) ~ 1), 3)
    out(mk500_ms = mk, sen500_ms = sen, km100k_ms = km)
  }
)

for (line in readLines(commandArgs(TRUE)[1])) {
  f <- strsplit(line, "\t", fixed = TRUE)[[1]]
  args <- list()
  for (a in f[-1]) {
    at <- regexpr("=", a, fixed = TRUE)
    args[[substr(a, 1, at - 1)]] <- as.numeric(strsplit(substr(a, at + 1, nchar(a)), " ", fixed = TRUE)[[1]])
  }
  do.call(kinds[[f[1]]], args)
}
