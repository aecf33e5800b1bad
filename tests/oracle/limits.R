# SPDX-License-Identifier: GPL-3.0-or-later
# Estimates and limits from their published formulas, in base R alone: the mathematical half of the oracle.
# Each returns c(estimate, lower, upper); what is undefined is NA. `a` is 1 - confidence.

# Wilson 1927 (J Am Stat Assoc 22:209), score limits without continuity correction.
wilson <- function(x, n, a) {
  if (n == 0) return(c(NA, NA, NA))
  z <- qnorm(1 - a / 2)
  middle <- (x + z^2 / 2) / (n + z^2)
  half <- z * sqrt(x * (n - x) / n + z^2 / 4) / (n + z^2)
  c(x / n, if (x == 0) 0 else middle - half, if (x == n) 1 else middle + half)
}

# Garwood 1936 (Biometrika 28:437), exact Poisson limits of a count.
garwood <- function(x, a) c(x, if (x == 0) 0 else qgamma(a / 2, x), qgamma(1 - a / 2, x + 1))

# Fay & Feuer 1997 (Stat Med 16:791), gamma limits of a weighted sum: y = sum k, v = sum k^2, w the largest weight.
fay_feuer <- function(k, a, least_weight) {
  y <- sum(k)
  v <- sum(k^2)
  w <- max(k, least_weight)
  if (v + w == 0) return(c(y, 0, NA))
  lower <- if (y == 0) 0 else v / (2 * y) * qchisq(a / 2, 2 * y^2 / v)
  c(y, lower, (v + w^2) / (2 * (y + w)) * qchisq(1 - a / 2, 2 * (y + w)^2 / (v + w^2)))
}

# Hyndman & Fan 1996 (Am Stat 50:361), definition 2; limits are order statistics by binomial ranks (Conover 1999, 3.2).
# The quantile is given in hundredths, so that n p is an exact whole number when it should be.
order_statistics <- function(x, hundredths, a) {
  n <- length(x)
  if (n == 0) return(c(NA, NA, NA))
  x <- sort(x)
  j <- n * hundredths / 100
  estimate <- if ((n * hundredths) %% 100 == 0) (x[j] + x[min(j + 1, n)]) / 2 else x[ceiling(j)]
  rank <- c(qbinom(a / 2, n, hundredths / 100), qbinom(1 - a / 2, n, hundredths / 100) + 1)
  c(estimate, ifelse(rank >= 1 & rank <= n, x[pmin(pmax(rank, 1), n)], NA))
}

# Goodman 1965 (Technometrics 7:247), simultaneous limits over k codes: one column of three for each count. One code alone
# has the share 1 and no limits (common practice, no source).
goodman <- function(x, a) {
  n <- sum(x)
  if (n == 0) return(matrix(NA_real_, 3, length(x)))
  if (length(x) == 1) return(matrix(c(x / n, NA, NA), 3, 1))
  b <- qchisq(1 - a / length(x), 1)
  half <- sqrt(b * (b + 4 * x * (n - x) / n))
  rbind(x / n, ifelse(x == 0, 0, (b + 2 * x - half) / (2 * (n + b))), ifelse(x == n, 1, (b + 2 * x + half) / (2 * (n + b))))
}

# Ratio of two weekly sums, linearised, with the variance of the means of l weeks running (moving blocks: Kunsch 1989,
# Ann Stat 17:1217). Limits need ten weeks and some variance.
block_ratio <- function(x, y, a) {
  if (sum(x) == 0) return(c(NA, NA, NA))
  estimate <- sum(y) / sum(x)
  n <- length(x)
  if (n < 10) return(c(estimate, NA, NA))
  r <- y - estimate * x
  l <- max(1, round(n^(1 / 3)))
  means <- vapply(seq_len(n - l + 1), function(i) mean(r[i:(i + l - 1)]), 0)
  variance <- n * l * mean((means - mean(means))^2)
  if (variance == 0) return(c(estimate, NA, NA))
  half <- qnorm(1 - a / 2) * sqrt(variance) / sum(x)
  c(estimate, max(0, estimate - half), min(1, estimate + half))
}
