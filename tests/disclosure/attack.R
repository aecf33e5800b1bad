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
# nothing changes. Returns lo, hi of every variable.
attack_bounds <- function(s, known = s$known) {
  h <- hidden_part(s, known)
  lo <- rep(0, length(h$hidden))
  hi <- rep(Inf, length(lo))
  up <- h$v > 0
  if (length(h$rows)) repeat {
    bound <- list(least = h$v * ifelse(up, lo[h$column], hi[h$column]), most = h$v * ifelse(up, hi[h$column], lo[h$column]))
    rest <- lapply(bound, function(x) { # of each term, what the others of its equation leave: right - others
      open <- is.infinite(x)
      end <- sign(x[open][1]) * Inf
      x[open] <- 0
      h$right[h$row] - ifelse(rowsum(open + 0, h$row)[h$row] > open, end, rowsum(x, h$row)[h$row] - x)
    })
    from <- ceiling(ifelse(up, rest$most, rest$least) / h$v - 1e-9)
    to <- floor(ifelse(up, rest$least, rest$most) / h$v + 1e-9)
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

# All of it: lines and elimination in turn, until neither finds more. by: how each hidden variable fell, "" if it did not.
attack_all <- function(s) {
  by <- rep("", length(s$known))
  known <- s$known
  unsure <- 0
  repeat {
    bounds <- attack_bounds(s, known)
    pinned <- bounds$lo == bounds$hi & !known
    by[pinned] <- "lines"
    known <- known | pinned
    linear <- attack_linear(s, known)
    by[linear$determined] <- "elimination"
    unsure <- unsure + linear$unsure
    known <- known | linear$determined
    if (!any(linear$determined)) break
  }
  list(by = by, unsure = unsure)
}

# The equations whose sum gives a variable that attack_linear found, and with which factors.
attack_derivation <- function(s, variable, known = s$known) {
  h <- hidden_part(s, known)
  y <- least_squares(matrix_hidden(h), as.numeric(h$hidden == variable))
  used <- abs(y) > 1e-6
  data.frame(equation = h$rows[used], factor = signif(y[used], 6))
}
