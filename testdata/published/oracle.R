# Recomputes a sample of cases with base R and the package survival.
#
# Usage: Rscript oracle.R CASES > RESULTS
#
# CASES has one case per line: a kind, then named arguments, parted by tabs;
# an argument is name=values, the values parted by blanks. RESULTS has one line
# per case: name=value, parted by tabs, 17 digits, NA where R has no value.

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

kinds <- list(
  wilson = function(x, n, level) {
    ci <- prop.test(x, n, conf.level = level, correct = FALSE)$conf.int
    out(lower = ci[1], upper = ci[2])
  },
  effective = function(x, n) {
    k <- length(x); N <- sum(n)
    a <- anova(lm(answer ~ session, data.frame(
      answer = unlist(Map(function(x, n) rep(1:0, c(x, n - x)), x, n)), session = factor(rep(seq_len(k), n)))))
    ms <- a$`Mean Sq`
    m0 <- (N - sum(n^2) / N) / (k - 1)
    out(icc_raw = (ms[1] - ms[2]) / (ms[1] + (m0 - 1) * ms[2]), m_weighted = weighted.mean(n, n))
  },
  trend = function(x, n, s) {
    r <- prop.trend.test(x, n, s)
    out(chisq = r$statistic, p = r$p.value)
  },
  kendall = function(t, y) {
    e <- cor.test(t, y, method = "kendall", exact = TRUE)
    a <- cor.test(t, y, method = "kendall", exact = FALSE, continuity = TRUE)
    S <- sum(sign(outer(t, t, "-")) * sign(outer(y, y, "-"))) / 2
    out(S = S, tau_b = a$estimate, z = if (S == 0) 0 else a$statistic, # R leaves z beside 0 there
        p_exact = if (anyDuplicated(y) > 0 || length(y) >= 50) NA else e$p.value)
  },
  sen = function(t, y) {
    d <- outer(t, t, "-"); s <- (outer(y, y, "-") / d)[lower.tri(d)]
    out(slope = median(s), n_slopes = length(s))
  },
  km = function(times, status, level) {
    f <- survfit(Surv(times, status) ~ 1, conf.type = "log-log", conf.int = level)
    m <- summary(f)$table # as printed: first crossing, middle of a flat stretch
    se <- f$std.err * f$surv; se[f$surv == 0] <- NA
    out(time = f$time, n_risk = f$n.risk, n_event = f$n.event, surv = f$surv, se = se, lower = f$lower, upper = f$upper,
        median = m[["median"]], med_lower = m[[8]], med_upper = m[[9]])
  },
  poisson = function(x, t, level) {
    ci <- poisson.test(x, t, conf.level = level)$conf.int
    out(lower = ci[1], upper = ci[2])
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
