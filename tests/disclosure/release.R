#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
# Holds a release (audit --suppress N) against the ordinary pack of the same logs and settings: what it shows is true, what it
# has to hide it hides, and no hidden count of 1 to N-1 follows from what it shows.
#
#   Rscript tests/disclosure/release.R --pack DIR --release DIR --least N [--network DIR] [--from YYYY-MM] [--also plant]
#
# --from: first month of the span asked for. --also plant, ones: spoils the release too, in ways that must be noticed.
# Ends with `N passed, N failed`.

words <- commandArgs(trailingOnly = TRUE)
given <- setNames(words[c(FALSE, TRUE)], sub("^--", "", words[c(TRUE, FALSE)]))
here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE)[1]))
source(file.path(here, "system.R"))
source(file.path(here, "attack.R"))
least <- as.numeric(given[["least"]])
from <- if ("from" %in% names(given)) given[["from"]] else ""

year_starts <- function() {
  if (!"network" %in% names(given)) return(1)
  line <- grep("^year_starts *=", readLines(file.path(given[["network"]], "network.ini")), value = TRUE)
  if (length(line)) as.integer(sub(".*= *", "", line[1])) else 1
}

# ---- which rows have to be hidden, whatever the rest ----

few <- function(count) !is.na(count) & count >= 1 & count < least

rows_small <- function(t) {
  few(t$events.n) | few(t$unknown.n) | counts_total(t) & few(t$total.n) | t$measure == "share" & few(t$total.n - t$events.n)
}

# Hyndman & Fan 1996, definition 2: value n*p, or the mean of it and the next where n*p is whole. Limits: Conover 1999, 3.2.
rows_extreme <- function(t) {
  twentieth <- c(p25 = 5, median = 10, p75 = 15, p90 = 18)[t$measure]
  n <- ifelse(is.na(twentieth), 0, t$total.n)
  p <- ifelse(is.na(twentieth), 0.5, twentieth / 20)
  whole <- (n * p * 20) %% 20 == 0 # p * 20 is whole
  alpha <- 1 - as.numeric(t$confidence)
  rank <- cbind(ifelse(whole, round(n * p), ceiling(n * p - 1e-9)), ifelse(whole, round(n * p) + 1, ceiling(n * p - 1e-9)),
                qbinom(alpha / 2, n, p), qbinom(1 - alpha / 2, n, p) + 1)
  n > 0 & rowSums(rank < least | n - rank + 1 < least) > 0
}

# ---- the tests: each gives TRUE or what is wrong ----

key <- function(t) do.call(paste, c(t[FIXED], sep = ","))

test_rows <- function(truth, release) {
  if (identical(names(truth), names(release)) && identical(key(truth), key(release))) TRUE else "other rows or columns"
}

test_shown <- function(truth, release) {
  columns <- setdiff(names(truth), paste0(NUMBERS, ".n"))
  wrong <- shown_of(release) & rowSums(as.matrix(truth[columns]) != as.matrix(release[columns])) > 0
  said(key(release)[wrong], "shown, but not as in the pack")
}

test_masked <- function(truth, release) {
  hidden <- !shown_of(release)
  wrong <- hidden & (rowSums(as.matrix(release[NUMBERS]) != "") > 0 | release$confidence != truth$confidence |
                     release$scale != truth$scale)
  said(key(release)[wrong], "hidden, but not empty")
}

test_due <- function(truth, release, due, what) said(key(release)[due & shown_of(release)], paste(what, "but shown"))

shown_of <- function(release) release$method != "suppressed"

said <- function(rows, what) {
  if (!length(rows)) return(TRUE)
  c(sprintf("%d rows %s, such as", length(rows), what), paste(" ", head(rows, 5)))
}

# Lines of a known sum: their hidden counts together are none or enough.
test_sums <- function(s) {
  part <- s$v > 0 & !s$known[s$j] & s$known[s$of[s$i]]
  together <- rowsum(s$v[part] * s$value[s$j[part]], s$i[part])
  wrong <- together[few(together), ]
  if (!length(wrong)) return(TRUE)
  line <- as.integer(rownames(together)[few(together)])
  c(sprintf("%d lines with 1 to %d hidden, such as", length(line), least - 1), paste(" ", head(line_named(s, line), 5)))
}

# Two lines at once: likewise.
test_two <- function(s) {
  found <- attack_two(s, least = least)
  if (!nrow(found)) return(TRUE)
  c(sprintf("%d pairs of lines with 1 to %d hidden, such as", nrow(found), least - 1),
    head(paste0("  ", found$together, " by ", line_named(s, found$one), " and ", line_named(s, found$two)), 5))
}

tidied <- function(names) gsub("\t+", " ", names)
line_named <- function(s, line) paste0(tidied(s$names[s$of[line]]), ": ", tidied(s$why[line]))

hidden_small <- function(s) s$in_row & !s$known & few(s$value)

test_attack <- function(s, by, how) {
  found <- which(hidden_small(s) & by == how)
  if (!length(found)) return(TRUE)
  c(sprintf("%d of %d small counts found by %s, such as", length(found), sum(hidden_small(s)), how),
    paste0("  ", tidied(s$names[found]), " = ", s$value[found])[seq_len(min(5, length(found)))])
}

# The tests of a release, or those of some names; system: of the truth.
tests <- function(truth, release, system, names = c("some", "shown", "masked", "small", "extreme", "sums", "two", "lines",
                                                    "elimination", "above 0", "sure")) {
  same <- test_rows(truth, release)
  if (!isTRUE(same)) return(list(rows = same))
  s <- system_known(system, shown_of(release), account_told)
  attack <- attack_all(s)
  found <- s
  found$known <- s$known | attack$by %in% c("lines", "elimination")
  test <- list(some = function() if (any(shown_of(release))) TRUE else "all rows are hidden",
               shown = function() test_shown(truth, release), masked = function() test_masked(truth, release),
               small = function() test_due(truth, release, rows_small(truth), "small"),
               extreme = function() test_due(truth, release, rows_extreme(truth), "extreme"),
               sums = function() test_sums(found), two = function() test_two(found),
               lines = function() test_attack(s, attack$by, "lines"),
               elimination = function() test_attack(s, attack$by, "elimination"),
               `above 0` = function() test_attack(s, attack$by, "above 0"),
               sure = function() if (attack$unsure == 0) TRUE else paste(attack$unsure, "near the tolerance of the elimination"))
  c(list(rows = TRUE), lapply(test[setdiff(names, "rows")], function(f) f()))
}

# ---- planted faults ----

unhidden <- function(truth, release, rows) {
  rows <- rows[!is.na(rows)]
  release[rows, ] <- truth[rows, ]
  release
}

# The one derived row of a line whose only other hidden count is small.
row_that_protects <- function(truth, release, s, derived) {
  shown <- shown_of(release)
  s <- system_known(s, shown, account_told)
  hidden <- !s$known[s$j]
  two <- tabulate(s$i[hidden], length(s$why)) == 2
  told_by <- s$rows$row
  for (line in which(two)) {
    pair <- s$j[s$i == line & hidden]
    small <- hidden_small(s)[pair]
    if (sum(small) != 1) next
    tells <- s$tells[s$var == pair[!small]]
    row <- which(derived & (s$rows$row %in% tells | s$rows$cell %in% tells))
    if (length(row)) return(row[1])
  }
  NA
}

# A release of nothing but the rows that tell what is known of some lines, if these rows may be shown; of rows that tell the
# same, one.
only_lines <- function(truth, release, s, lines, due) {
  terms <- s$j[s$i %in% lines]
  tells <- s$tells[s$var %in% terms[s$known[terms]]]
  bare <- release
  bare[c(NUMBERS, paste0(NUMBERS, ".n"))] <- list("")
  bare$method <- "suppressed"
  first <- !duplicated(paste(s$rows$cell, due))
  unhidden(truth, bare, which(!due & (s$rows$row %in% tells | first & s$rows$cell %in% tells)))
}

# Two indicators' lines that tell a small sum together: events and the rest of one, and what that rest is the sum of.
plant_two <- function(truth, release, s, due) {
  s <- system_known(s, !due, FALSE)
  found <- attack_two(s, least = least)
  found <- found[found$parts > 1 & s$why[found$one] == "events and the rest" & grepl(" = ", s$why[found$two]), ]
  only_lines(truth, release, s, unlist(found[1, c("one", "two")]), due)
}

# A line whose hidden counts are all 1, but as many as may be shown.
plant_ones <- function(truth, release, s, due) {
  s <- system_known(s, !due, FALSE)
  hidden <- !s$known[s$j]
  n <- tabulate(s$i[hidden], length(s$why))
  ones <- tabulate(s$i[hidden & s$value[s$j] == 1], length(s$why))
  only_lines(truth, release, s, which(n >= least & ones == n & s$known[s$of])[1], due)
}

plants <- function(truth, release, s) {
  due <- rows_small(truth) | rows_extreme(truth)
  derived <- !shown_of(release) & !due
  hidden <- which(!shown_of(release) & !is.na(truth$events.n))
  one <- release
  one$events[hidden[1]] <- truth$events[hidden[1]]
  total <- which(counts_total(truth) & few(truth$total.n))
  rows <- list(`a derived row shown` = row_that_protects(truth, release, s, derived), `all derived rows shown` = which(derived),
               `a small total shown` = total[1])
  by <- list(c("lines", "elimination"), c("lines", "elimination"), "small")
  c(Map(function(row, by) list(by = by, release = unhidden(truth, release, row)), rows, by),
    list(`a sum by two lines shown` = list(by = "two", release = plant_two(truth, release, s, due)),
         `a hidden number put back` = list(by = "masked", release = one),
         `a shown number changed` = list(by = "shown", release = within(release, {
           estimate[which(shown_of(release) & estimate != "")[1]] <- "0.5"
         })),
         `a row left out` = list(by = "rows", release = release[-nrow(release), ])))
}

# ---- all of it ----

truth <- summary_read(file.path(given[["pack"]], "summary.csv"))
release <- summary_read(file.path(given[["release"]], "summary.csv"))
used <- function(folder) { # rows used, as the manifest's account has them: all requests of all periods; NA if it hides that
  line <- grep("\"used\":", readLines(file.path(given[[folder]], "manifest.json")), value = TRUE)
  suppressWarnings(as.numeric(gsub("[^0-9]", "", line[length(line)])))
}
counts <- counts_with_account(counts_of(truth), used("pack"))
system <- system_of(counts, periods_of(unique(truth$period), year_starts(), from), least)
account_told <- !is.na(used("release"))
due <- rows_small(truth) | rows_extreme(truth)
off <- rowsum(system$v * system$value[system$j], system$i) != 0
results <- c(list(`the sums hold in the pack` = if (any(off)) c(sprintf("%d do not", sum(off)), head(line_named(system, which(off)), 5)) else TRUE),
             tests(truth, release, system))
also <- if ("also" %in% names(given)) given[["also"]] else ""
planted <- if (also == "plant") plants(truth, release, system) else if (also == "ones")
  list(ones = list(by = "above 0", release = plant_ones(truth, release, system, due)))
for (name in names(planted)) {
  plant <- planted[[name]]
  noticed <- tests(truth, plant$release, system, plant$by)
  results[[paste("planted:", name)]] <- if (identical(plant$release, release)) "nothing to plant" else
    if (all(vapply(noticed, isTRUE, NA))) "not noticed" else TRUE
}
s <- system_known(system, shown_of(release), account_told)
cat(sprintf("%d rows: %d shown, %d small, %d extreme, %d derived; %d counts, of which %d hidden small ones; %d equations\n",
            nrow(truth), sum(shown_of(release)), sum(rows_small(truth)), sum(due & !rows_small(truth)),
            sum(!due & !shown_of(release)), length(s$value), sum(hidden_small(s)), length(s$why)))
for (name in names(results)) if (!isTRUE(results[[name]])) cat(paste0(name, ": ", paste(results[[name]], collapse = "\n")), sep = "\n")
good <- sum(vapply(results, isTRUE, NA))
cat(sprintf("%d passed, %d failed\n", good, length(results) - good))
quit(status = as.integer(good < length(results)))
