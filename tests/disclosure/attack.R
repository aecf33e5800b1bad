# SPDX-License-Identifier: GPL-3.0-or-later
# Attacks on a system of equations (system.R): i, j, v triplets of sum(v * x) = 0; value the truth, known what is shown.
suppressMessages(library(Matrix))

# The hidden part of the equations, equation after equation: a row each in `row`, a column each in `column`; sum(v * x) = right.
hidden_part <- function(s, known) {
  keep <- !known[s$j]
  right <- -rowsum(ifelse(keep, 0, s$v * s$value[s$j]), s$i)[, 1]
  rows <- unique(s$i[keep])
  hidden <- which(!known)
  list(row = match(s$i[keep], rows), column = match(s$j[keep], hidden), v = s$v[keep], right = unname(right[rows]), rows = rows,
       hidden = hidden)
}

# Bounds along lines: counts are whole and not negative. Each round takes every equation by itself; rounds go on until
# nothing changes. Returns lo, hi of every variable. above: a hidden count is taken for at least 1 if it is, as by who knows
# that no row is hidden for a 0.
attack_bounds <- function(s, known = s$known, above = FALSE) {
  h <- hidden_part(s, known)
  lo <- as.numeric(above & s$value[h$hidden] > 0)
  hi <- rep(Inf, length(lo))
  up <- h$v > 0
  if (length(h$rows)) repeat {
    from <- lo[h$column]
    to <- hi[h$column]
    bound <- list(least = h$v * either(up, from, to), most = h$v * either(up, to, from))
    rest <- lapply(bound, function(x) { # of each term, what the others of its equation leave: right - others
      open <- is.infinite(x)
      end <- sign(x[open][1]) * Inf
      x[open] <- 0
      sums <- rowsum(cbind(x, open), h$row, reorder = FALSE)[h$row, ] # rows are numbered as they come
      h$right[h$row] - either(sums[, 2] > open, rep(end, length(x)), sums[, 1] - x)
    })
    from <- ceiling(either(up, rest$most, rest$least) / h$v - 1e-9)
    to <- floor(either(up, rest$least, rest$most) / h$v + 1e-9)
    better <- from > lo[h$column] | to < hi[h$column]
    if (!any(better)) break
    by_from <- order(from)
    by_to <- order(-to)
    new_lo <- replace(rep(0, length(lo)), h$column[by_from], from[by_from]) # of equal places the last counts
    new_hi <- replace(rep(Inf, length(lo)), h$column[by_to], to[by_to])
    lo <- pmax(lo, new_lo)
    hi <- pmin(hi, new_hi)
  }
  stopifnot(lo <= s$value[h$hidden], hi >= s$value[h$hidden])
  list(lo = replace(s$value, h$hidden, lo), hi = replace(s$value, h$hidden, hi))
}

either <- function(test, yes, no) { # ifelse of vectors of one length, quicker
  no[test] <- yes[test]
  no
}

# Which of the hidden variables the equations determine. A random vector without its part in the row space of the equations'
# hidden columns is a random member of their null space: a variable is determined if it is 0 in all of it. The part is found by
# conjugate gradients on the normal equations (Hestenes & Stiefel 1952), to 1e-12 of its size.
attack_linear <- function(s, known = s$known, draws = 2) {
  h <- hidden_part(s, known)
  size <- rep(0, length(h$hidden))
  set.seed(2)
  if (length(h$rows)) for (draw in seq_len(draws)) size <- pmax(size, abs(null_part(matrix_hidden(h), rnorm(length(size)))))
  list(determined = replace(rep(FALSE, length(known)), h$hidden, size <= 1e-7 & length(h$rows) > 0),
       unsure = sum(size > 1e-7 & size < 1e-5))
}

matrix_hidden <- function(h) sparseMatrix(h$row, h$column, x = h$v, dims = c(length(h$rows), length(h$hidden)))

# r less its part in the row space of A
null_part <- function(A, r) r - as.vector(t(A) %*% least_squares(A, r))

# y such that r - A'y is least; of many, one
least_squares <- function(A, r, most = 20000) {
  At <- t(A)
  y <- rep(0, nrow(A))
  g <- as.vector(A %*% r)
  p <- g
  norm <- start <- sum(g^2)
  for (k in seq_len(most)) {
    if (norm <= 1e-26 * start || norm == 0) break
    q <- as.vector(At %*% p)
    step <- norm / sum(q^2)
    y <- y + step * p
    r <- r - step * q
    g <- as.vector(A %*% r)
    new <- sum(g^2)
    p <- g + (new / norm) * p
    norm <- new
  }
  y
}

# All of it: lines and elimination in turn until neither finds more; then the same with hidden counts taken for at least 1.
# by: how each hidden variable fell, "" if it did not.
attack_all <- function(s) {
  by <- rep("", length(s$known))
  known <- s$known
  unsure <- 0
  for (above in c(FALSE, TRUE)) repeat {
    bounds <- attack_bounds(s, known, above)
    pinned <- bounds$lo == bounds$hi & !known
    by[pinned] <- if (above) "above 0" else "lines"
    known <- known | pinned
    if (above && !any(pinned)) break
    linear <- attack_linear(s, known)
    by[linear$determined] <- if (above) "above 0" else "elimination"
    unsure <- unsure + linear$unsure
    known <- known | linear$determined
    if (!any(linear$determined)) break
  }
  list(by = by, unsure = unsure)
}

# What hidden counts come to together by two equations at once: where both have the same hidden variable, they are added so
# that it goes, and if all that is left has one sign, its sum is known. Those of 1 to least - 1: equations one and two, the
# variable that is gone, how many are left (parts), what they are together.
attack_two <- function(s, known = s$known, least) {
  h <- hidden_part(s, known)
  by_column <- order(h$column)
  later <- cumsum(tabulate(h$column, length(h$hidden)))[h$column[by_column]] - seq_along(by_column)
  x <- by_column[rep(seq_along(by_column), later)] # terms of one column, two by two
  y <- by_column[sequence(later, seq_along(by_column) + 1)]
  times <- -h$v[x] / h$v[y] # of the second
  together <- h$right[h$row[x]] + times * h$right[h$row[y]]
  small <- which(abs(times) == 1 & abs(together) >= 1 & abs(together) < least)
  length <- tabulate(h$row, length(h$rows))
  first <- match(seq_along(length), h$row)
  terms_of <- function(term) sequence(length[h$row[term]], first[h$row[term]])
  pair <- c(rep(seq_along(small), length[h$row[x[small]]]), second <- rep(seq_along(small), length[h$row[y[small]]]))
  column <- h$column[c(terms_of(x[small]), terms_of(y[small]))]
  v <- c(h$v[terms_of(x[small])], times[small][second] * h$v[terms_of(y[small])])
  place <- pair * (length(h$hidden) + 1) + column
  sum <- rowsum(v, place, reorder = FALSE)[, 1]
  pair <- pair[!duplicated(place)]
  up <- tabulate(pair[sum > 0], length(small))
  down <- tabulate(pair[sum < 0], length(small))
  good <- up * down == 0 & together[small] * (up - down) > 0
  found <- small[good]
  data.frame(one = h$rows[h$row[x[found]]], two = h$rows[h$row[y[found]]], gone = h$hidden[h$column[x[found]]],
             parts = (up + down)[good], together = abs(together[found]))
}

# The equations whose sum gives a variable that attack_linear found, and with which factors.
attack_derivation <- function(s, variable, known = s$known) {
  h <- hidden_part(s, known)
  y <- least_squares(matrix_hidden(h), as.numeric(h$hidden == variable))
  used <- abs(y) > 1e-6
  data.frame(equation = h$rows[used], factor = signif(y[used], 6))
}
