# The same bare counts from the CSV, in base R.
x <- read.csv(commandArgs(TRUE)[1])
first <- x$response == "yes" & x$asks == 1
print(head(aggregate(cbind(yes = first, of = 1), list(dog = x$dog, cue = x$cue), sum)))
