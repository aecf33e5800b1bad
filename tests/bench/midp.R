# SPDX-License-Identifier: GPL-3.0-or-later
# Rscript tests/bench/midp.R COUNTS: mid-P limits of all the counts at once, halving in vectors; prints the least
# seconds of three runs and the sum of all limits. R has no such function of its own.
d <- read.table(commandArgs(TRUE)[1])
midp <- function(x, n, tail) {
    halve <- function(above) {
        low <- rep(0, length(x)); high <- rep(1, length(x))
        for (i in 1:50) {
            middle <- (low + high) / 2
            big <- above(middle)
            high <- ifelse(big, middle, high); low <- ifelse(big, low, middle)
        }
        (low + high) / 2
    }
    lower <- halve(function(p) pbinom(x, n, p, lower.tail = FALSE) + dbinom(x, n, p) / 2 > tail)
    upper <- halve(function(p) pbinom(x - 1, n, p) + dbinom(x, n, p) / 2 < tail)
    c(ifelse(x == 0, 0, lower), ifelse(x == n, 1, upper))
}
seconds <- replicate(3, { start <- proc.time()[[3]]; limits <<- midp(d[, 1], d[, 2], 0.025); proc.time()[[3]] - start })
cat(sprintf("%.4f %.12f\n", min(seconds), sum(limits)))
