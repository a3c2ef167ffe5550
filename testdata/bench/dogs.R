# What people do instead: read the CSV of the whole kennel into R and give, for one
# dog or for those with a session in the last three days, each cue's rate of right first
# asks with its Wilson interval and the Kaplan-Meier median of the time to answer.
#
#   Rscript dogs.R trials.csv [DOG]
suppressPackageStartupMessages(library(survival))

limit <- 3 # seconds an ask stands, at which what was not answered is censored
args <- commandArgs(TRUE)
trials <- read.csv(args[1])
day <- substr(trials$start, 1, 10)
here <- if (length(args) > 1) args[2] else unique(trials$dog[day >= as.character(as.Date(max(day)) - 2)])
trials <- trials[trials$dog %in% here, ]
trials$right <- trials$response == "yes" & trials$asks == 1
trials$time <- ifelse(trials$right, trials$latency, limit)

judge <- function(x) {
  interval <- suppressWarnings(prop.test(sum(x$right), nrow(x), correct = FALSE))$conf.int
  median <- summary(survfit(Surv(time, right) ~ 1, x))$table[["median"]]
  data.frame(dog = x$dog[1], cue = x$cue[1], of = nrow(x), rate = mean(x$right), low = interval[1], high = interval[2], median = median)
}
print(do.call(rbind, lapply(split(trials, list(trials$dog, trials$cue), drop = TRUE), judge)), row.names = FALSE)
