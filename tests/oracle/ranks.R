# SPDX-License-Identifier: GPL-3.0-or-later
# Two lists of samples by stratum held against each other by their ranks, in base R, from the definitions (src/stats/rank.h,
# shift.h). All differences are formed, so nothing is searched for.

strata_both <- function(x, y) lengths(x) > 0 & lengths(y) > 0

# Samples by stratum: minutes and the stratum of each.
by_strata <- function(minutes, stratum, strata) lapply(strata, function(s) minutes[stratum == s])

# Variance by chance of the sum of the ranks that x has among both: that of a sum of ranks drawn without replacement.
rank_sum_variance <- function(x, y) length(x) * length(y) / (length(x) + length(y)) * var(rank(c(x, y)))

# Van Elteren's test of x against y: p, which side, the mean rank of x within its strata as a share of their sizes, and its
# variance by chance (no correction for ties).
van_elteren <- function(x, y) {
  both <- strata_both(x, y)
  if (!any(both)) return(c(NA, 0, NA, NA))
  x <- x[both]; y <- y[both]
  m <- lengths(x); n <- lengths(y); N <- m + n
  ahead <- mapply(function(x, y) { r <- rank(c(x, y)); sum(r[seq_along(x)] - mean(r)) }, x, y)
  chance <- mapply(rank_sum_variance, x, y)
  z <- sum(ahead / (N + 1)) / sqrt(sum(chance / (N + 1)^2))
  p <- if (sum(chance) == 0) 1 else if (length(N) > 1) 2 * pnorm(-abs(z)) else {
    x <- x[[1]]; y <- y[[1]]
    min(1, wilcox.test(x, y, exact = length(x) < 50 && length(y) < 50 && !anyDuplicated(c(x, y)))$p.value)
  }
  c(p, sign(sum(ahead / (N + 1))), 0.5 + sum(ahead / N) / sum(m), sum(m * n * (N + 1) / N^2) / 12 / sum(m)^2)
}

# The normal deviate behind that p, which may be too small to be told; NA where p is exact, or there is none.
van_elteren_deviate <- function(x, y) {
  both <- strata_both(x, y)
  x <- x[both]; y <- y[both]
  exact <- length(x) == 1 && length(x[[1]]) < 50 && length(y[[1]]) < 50 && !anyDuplicated(c(x[[1]], y[[1]]))
  if (!any(both) || exact) return(NA)
  w <- 1 / (lengths(x) + lengths(y) + 1)
  ahead <- mapply(function(x, y) { r <- rank(c(x, y)); sum(r[seq_along(x)] - mean(r)) }, x, y)
  if (length(x) == 1) ahead <- ahead - sign(ahead) / 2 # the correction for continuity
  sum(w * ahead) / sqrt(sum(w^2 * mapply(rank_sum_variance, x, y)))
}

# The shift that goes with it, of whole minutes, and its limits (NA where one stratum alone takes part, which has others): the
# weighted median of all differences within strata, where the weights on both sides are equal the middle of two neighbours.
shift_within <- function(x, y, a) {
  both <- strata_both(x, y)
  if (!any(both)) return(c(NA, NA, NA))
  x <- x[both]; y <- y[both]
  w <- 1 / (lengths(x) + lengths(y) + 1)
  parts <- Map(function(x, y, w) {
    least <- min(x) - max(y)
    count <- tabulate(outer(x, y, "-") - least + 1)
    data.frame(at = least - 1 + which(count > 0), weight = w * count[count > 0])
  }, x, y, w)
  all <- do.call(rbind, parts)
  weight <- rowsum(all$weight, all$at, reorder = TRUE)
  at <- as.numeric(rownames(weight)); upto <- cumsum(weight); whole <- sum(weight)
  middle <- which(upto >= whole / 2 * (1 - 1e-9))[1]
  equal <- abs(upto[middle] - whole / 2) <= 1e-9 * whole
  away <- -qnorm(a / 2) * sqrt(sum(w^2 * mapply(rank_sum_variance, x, y)))
  c(if (equal) (at[middle] + at[middle + 1]) / 2 else at[middle],
    if (sum(both) == 1 || away >= whole / 2) c(NA, NA) else c(at[upto >= whole / 2 - away][1], at[upto >= whole / 2 + away][1]))
}
