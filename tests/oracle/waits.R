#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
# The oracle of waits.csv: how requests ended by when, departure, stand-down and death competing, from canonical logs by
# survfit's multi-state curves (package survival); limits F^exp(-+ z se / (F log F)) (Choudhury 2002) with the delta method's
# variance (Marubini & Valsecchi 1995, eq. 10.12), summed here time by time.
#
#   Rscript tests/oracle/waits.R [--network DIR] [--period P] [--confidence C] --pack DIR LOG...
#
# Ends with `N passed, N failed`: one test for each number.

ORACLE_PART <- TRUE
here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE)[1]))
source(file.path(here, "summary.R"))
suppressPackageStartupMessages(library(survival))
options(warn = -1)

ENDS <- c("departed", "stood-down", "died-before-departure")

# Minutes until each request ended or was seen last, and its end: 0 none yet, else the place in ENDS; NA if that can't be told.
endings <- function(records, caps) {
  left <- interval(records, "requested_at..departed_at", caps)
  other <- interval(records, "requested_at..ended_at", caps)
  seen <- records$received * 1440 - records$requested_at
  open <- is.na(records$ended) & is.na(records$outcome) & is.na(records$departed_at) & !is.na(seen) & seen >= 0
  minutes <- ifelse(is.na(records$ended), ifelse(open, seen, NA), ifelse(records$ended == "departed", left, other))
  data.frame(minutes = minutes, end = ifelse(is.na(records$ended), 0, match(records$ended, ENDS)))
}

delta_variance <- function(d, at, of) {
  times <- sort(unique(d$minutes[d$minutes <= at]))
  n <- vapply(times, function(t) sum(d$minutes >= t), 0)
  all <- vapply(times, function(t) sum(d$minutes == t & d$end > 0), 0)
  own <- vapply(times, function(t) sum(d$minutes == t & d$end == of), 0)
  before <- c(1, cumprod(1 - all / n))[seq_along(times)]
  F <- cumsum(before * own / n)
  later <- F[length(F)] - F
  sum(ifelse(n > all, later^2 * all / (n * (n - all)), 0) + before^2 * own * (n - own) / n^3 - 2 * later * before * own / n^2)
}

limits_of <- function(F, d, at, of, a) {
  if (!(F > 0 && F < 1 - 1e-12)) return(c(NA, NA))
  w <- qnorm(1 - a / 2) * sqrt(delta_variance(d, at, of)) / (F * log(F))
  sort(F^exp(c(-1, 1) * w))
}

# Eight points a doubling from ten minutes on while requests last, and the longest time.
grid_of <- function(d) {
  grid <- 10 * 2^((0:90) / 8)
  c(grid[grid < max(d$minutes)], max(d$minutes))
}

curve_rows <- function(d, urgency, a) {
  at <- grid_of(d)
  # a minute later, as survfit takes the start for an own time; levels stay though no request ended so
  f <- survfit(Surv(d$minutes + 1, factor(d$end, 0:3)) ~ 1)
  s <- summary(f, times = at + 1, extend = TRUE)
  do.call(rbind, lapply(seq_along(at), function(k) {
    F <- s$pstate[k, 2:4]
    limits <- vapply(1:3, function(of) limits_of(F[of], d, at[k], of, a), c(0, 0))
    data.frame(urgency = urgency, minutes = at[k], end = c(ENDS, "open"), estimate = c(F, s$pstate[k, 1]),
               lower = c(limits[1, ], NA), upper = c(limits[2, ], NA), at_risk = sum(d$minutes >= at[k]))
  }))
}

main_waits <- function() {
  options <- options_read(commandArgs(trailingOnly = TRUE))
  settings <- settings_read(options$network)
  records <- derive(records_read(options$logs, settings)$records, settings)
  keep <- condition_holds(records, settings$include)
  records <- records[!is.na(keep) & keep, ]
  if (!is.null(options$period)) {
    span <- period_months(options$period, settings$year_starts)
    month <- month_of(records$day)
    records <- records[month >= span[1] & month <= span[2], ]
  }
  got <- read.csv(file.path(options$pack, "waits.csv"), colClasses = "character", na.strings = character())
  check(identical(names(got), c("urgency", "minutes", "end", "estimate", "lower", "upper", "at_risk")), "waits.csv has columns ",
        paste(names(got), collapse = ","))
  want <- NULL
  for (urgency in c("time-critical", "urgent", "planned")) {
    d <- endings(records[records$urgency %in% urgency, ], settings$caps)
    d <- d[!is.na(d$minutes), ]
    if (nrow(d)) want <- rbind(want, curve_rows(d, urgency, 1 - as.numeric(options$confidence)))
  }
  check(nrow(got) == max(0, nrow(want)) && all(got$urgency == want$urgency & got$end == want$end), "waits.csv: rows of the table")
  if (nrow(got) == max(0, nrow(want))) for (column in c("minutes", "estimate", "lower", "upper", "at_risk")) {
    for (i in seq_len(nrow(got))) {
      good <- number_same(want[[column]][i], got[[column]][i])
      check(good, want$urgency[i], " ", format(want$minutes[i]), " ", want$end[i], " ", column, ": ", want[[column]][i], ", got ", got[[column]][i])
    }
  }
  # what has ended in each way and what is open make up all
  if (nrow(got)) {
    sums <- tapply(as.numeric(got$estimate), paste(got$urgency, got$minutes), sum)
    check(all(abs(sums - 1) < 1e-10), "open and ends do not add up to 1")
  }
  cat(tests$passed, " passed, ", tests$failed, " failed\n", sep = "")
  if (tests$failed > 0) quit(status = 1)
}
main_waits()
