#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
# The attacks themselves (attack.R), held against a printed example and against ranks of small random systems.
# Ends with `N passed, N failed`.
here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE)[1]))
source(file.path(here, "attack.R"))

# A two-way table with its margins as a system; shown: which inner cells are.
table_system <- function(cells, shown) {
  r <- nrow(cells)
  k <- ncol(cells)
  inner <- matrix(seq_len(r * k), r)
  rows <- r * k + seq_len(r)
  columns <- r * k + r + seq_len(k)
  list(i = c(row(inner), seq_len(r), r + col(inner), r + seq_len(k)), j = c(inner, rows, inner, columns),
       v = c(rep(1, r * k), rep(-1, r), rep(1, r * k), rep(-1, k)), value = c(cells, rowSums(cells), colSums(cells)),
       known = c(shown, rep(TRUE, r + k)))
}

in_order <- function(s) {
  o <- order(s$i)
  s[c("i", "j", "v")] <- lapply(s[c("i", "j", "v")], `[`, o)
  s
}

found <- function(cells, shown) {
  s <- in_order(table_system(cells, shown))
  inner <- seq_along(cells)
  list(linear = which(attack_linear(s)$determined[inner]), all = which(attack_all(s)$by[inner] != ""))
}

# Federal Committee on Statistical Methodology, Statistical Policy Working Paper 22, chapter II.C, tables 1 to 3: invented
# counts of children by county and by schooling of the head of household, threshold 5 (from memory; all margins add up).
counties <- rbind(c(15, 1, 3, 1), c(20, 10, 10, 15), c(3, 10, 10, 2), c(12, 14, 7, 2))
small <- counties < 5
# Table 2: hidden so that each row and column has two, and yet the last cell of the first row is 1: first two rows less the two
# columns in the middle.
failing <- rbind(c(0, 1, 1, 1), c(0, 1, 1, 0), c(1, 0, 0, 1), c(1, 0, 0, 1)) == 1
# Table 3: hidden so that nothing follows.
protected <- rbind(c(0, 1, 1, 1), c(0, 0, 0, 0), c(1, 1, 0, 1), c(1, 0, 1, 1)) == 1
stopifnot(failing[small], protected[small])
first_last <- which(row(counties) == 1 & col(counties) == 4)

# A system of 0, 1 and -1 and which variables ranks say it determines: those whose unit vector adds nothing to the rows' rank.
random_agrees <- function(seed) {
  set.seed(seed)
  A <- matrix(sample(c(-1, 0, 0, 1), 8 * 10, TRUE), 8)
  A <- A[rowSums(A != 0) > 0, ]
  at <- which(A != 0, arr.ind = TRUE)
  s <- in_order(list(i = at[, 1], j = at[, 2], v = A[at], value = rep(0, 10), known = rep(FALSE, 10)))
  rank <- qr(A)$rank
  ranked <- vapply(1:10, function(j) qr(rbind(A, as.numeric(1:10 == j)))$rank == rank, NA)
  identical(attack_linear(s)$determined, ranked)
}

# A system of lines, each the variables that add up and then their sum; by hand.
lines_system <- function(lines, value, shown) {
  n <- lengths(lines)
  list(i = rep(seq_along(lines), n), j = unlist(lines), v = unlist(lapply(n, function(k) rep(c(1, -1), c(k - 1, 1)))), value = value,
       known = shown)
}

# A share: 40 asked for, 4 stood down and 36 not; of these 33 went, 3 died before. Two lines tell that 4 + 3 are hidden.
stood_down <- function(shown) lines_system(list(c(2, 3, 1), c(4, 5, 3)), c(40, 4, 36, 33, 3), shown)
two <- stood_down(c(TRUE, FALSE, FALSE, TRUE, FALSE))
# 40 and 42 are sums of a count and a third one that both share: of the two counts the difference is known, and no sum.
difference <- lines_system(list(c(3, 4, 1), c(3, 5, 2)), c(40, 42, 30, 10, 12), c(TRUE, TRUE, FALSE, FALSE, FALSE))

sums_two <- function(s, least) attack_two(s, least = least)
nothing <- function(s, least) nrow(sums_two(s, least)) == 0 && all(attack_all(s)$by == "")

# A shown sum of hidden parts: who takes each for at least 1 if it is finds which?
parts <- function(...) {
  value <- c(...)
  n <- length(value)
  attack_all(lines_system(list(c(seq_len(n), n + 1)), c(value, sum(value)), rep(c(FALSE, TRUE), c(n, 1))))$by[seq_len(n)]
}

# What is found of random lines has one value in all that solves them, by trying all: of whole numbers up to 6 that are 0 only
# where the truth is.
solutions_agree <- function(seed) {
  set.seed(seed)
  value <- rpois(5, 1)
  lines <- lapply(1:3, function(k) c(sort(sample(5, sample(2:4, 1))), 5 + k))
  value <- c(value, vapply(lines, function(l) sum(value[l[-length(l)]]), 0))
  s <- lines_system(lines, value, rep(c(FALSE, TRUE), c(5, 3)))
  all <- as.matrix(expand.grid(rep(list(0:6), 5)))
  all <- cbind(all, matrix(value[6:8], nrow(all), 3, byrow = TRUE))
  solves <- rowSums(vapply(lines, function(l) rowSums(all[, l[-length(l)]]) != all[, l[length(l)]], logical(nrow(all)))) == 0 &
    rowSums(all[, value > 0, drop = FALSE] == 0) == 0
  found <- which(attack_all(s)$by != "")
  all(t(all[solves, found, drop = FALSE]) == value[found])
}

# Counts of which bounds leave one value, by trying all: two cells of at most 3 in a row, and columns of 3 and of 0.
zero_column <- cbind(c(1, 2), c(0, 0))
results <- c(
  "table 1 with small cells alone hidden: all are found" = setequal(found(counties, !small)$all, which(small)),
  "table 2: elimination finds the one cell that is printed" = identical(found(counties, !failing)$linear, first_last),
  "table 3: nothing is found" = length(found(counties, !protected)$all) == 0,
  "a column of nothing: lines find all" = length(found(zero_column, zero_column < 0)$all) == 4,
  "such a table by elimination alone: nothing" = length(found(zero_column, zero_column < 0)$linear) == 0,
  "two lines: 7 are hidden" = identical(unlist(sums_two(two, 10)), c(one = 1, two = 2, gone = 3, parts = 2, together = 7)),
  "two lines, smallest count 7: nothing" = nothing(two, 7),
  "two lines, one sum hidden: nothing" = nothing(stood_down(c(FALSE, FALSE, FALSE, TRUE, FALSE)), 10),
  "two lines, the other part hidden: nothing" = nothing(stood_down(c(TRUE, FALSE, FALSE, FALSE, FALSE)), 10),
  "a difference: nothing" = nothing(difference, 10),
  "10 of 1 each: found as they are above 0" = all(parts(rep(1, 10)) == "above 0"),
  "10 of 1 each and a 0: likewise" = all(parts(rep(1, 10), 0) == "above 0"),
  "9 of 1 each and a 2: nothing" = all(parts(rep(1, 9), 2) == ""),
  setNames(vapply(1:20, solutions_agree, NA), paste("solutions of random lines", 1:20)),
  setNames(vapply(1:40, random_agrees, NA), paste("ranks of random system", 1:40)))
for (name in names(results)[!results]) cat("FAILED", name, "\n")
cat(sprintf("%d passed, %d failed\n", sum(results), sum(!results)))
quit(status = as.integer(!all(results)))
