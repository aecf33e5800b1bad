#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
# The oracle of base-cover.csv: absences worked out afresh, minute by minute where time matters, from the definitions in
# src/measure/cover.h and commands.md, in base R on canonical logs.
#
#   Rscript tests/oracle/cover.R --network DIR --pack DIR [--confidence C] LOG...
#
# Ends with `N passed, N failed`: one test for each number.

ORACLE_PART <- TRUE
here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE)[1]))
source(file.path(here, "summary.R"))
options(warn = -1)

# Minutes one by one are many; no zone changes its offset within a quarter of an hour.
offset_of_instants <- zone_offset
zone_offset <- function(utc, zone) offset_of_instants(floor(utc / 15) * 15, zone)

DAY <- c("mon", "tue", "wed", "thu", "fri", "sat", "sun")

# Hours from the first to the last known stamp of each absence; 0 if they are out of order or too far apart.
least_hours <- function(records, most) {
  stamps <- as.matrix(records[c("team_ready_at", "at_patient_at", "departed_at", "arrived_at", "handed_over_at", "returned_at")])
  vapply(seq_len(nrow(records)), function(i) {
    known <- stamps[i, !is.na(stamps[i, ])]
    if (!length(known) || is.unsorted(known)) return(0)
    hours <- (known[length(known)] - known[1]) / 60
    if (!is.na(most) && hours > most) 0 else hours
  }, 0)
}

# The minutes (UTC) of each absence one by one, with the absence they belong to.
minutes_of <- function(from, to) {
  n <- to - from
  list(at = sequence(n, from), absence = rep(seq_along(n), n))
}

# How many are away in each minute in which anybody is, and the longest run of minutes with k or more.
at_once <- function(at) {
  n <- tabulate(at - min(at) + 1)
  longest <- function(k) { r <- rle(n >= k); max(0, r$lengths[r$values]) / 60 }
  list(at = min(at) - 1 + seq_along(n), n = n, longest = longest)
}

hours_rows <- function(group, hours, weeks, weekly, a) {
  y <- if (length(hours)) fay_feuer(hours, a, 0) else c(0, 0, NA)
  per <- function(x) if (x == 0) c(NA, NA, NA) else y / x
  rbind(data.frame(figure = c("hours", "hours_per_week", "hours_per_transfer"), group = group, events = length(hours),
                   rbind(y, per(weeks), per(length(hours)))),
        data.frame(figure = "whole_time", group = group, events = NA, X1 = per(weeks)[1] / weekly, X2 = NA, X3 = NA))
}

# All rows of one unit (or of all): its absences a, those not whole b, those perhaps none c.
unit_rows <- function(records, kind, minutes, units, context) {
  whole <- which(kind == "whole")
  hours <- minutes[whole] / 60
  row <- function(figure, group, value, lower = NA, upper = NA, events = NA)
    data.frame(figure, group, events, X1 = value, X2 = lower, X3 = upper)
  put <- list()
  add <- function(r) put[[length(put) + 1]] <<- r
  part <- kind == "incomplete"
  maybe <- kind == "maybe"
  upper <- ifelse(is.na(minutes[maybe]), context$most, minutes[maybe] / 60)
  add(row("absences", "all", sum(kind == "whole" | part)))
  add(row("absences", "incomplete", sum(part)))
  add(row("absences", "not known whether one", sum(maybe)))
  add(row("hours_at_least", "all", sum(hours) + sum(least_hours(records[part, ], context$most))))
  add(row("hours_at_most", "all", sum(hours) + sum(part) * ifelse(any(part), context$most, 0) + sum(upper)))
  add(row("hours_if_incomplete_like_the_rest", "all",
          if (length(hours)) sum(hours) + sum(part) * mean(hours) else if (any(part)) NA else 0))
  grouped <- function(field, codes) for (code in c(codes, "unknown")) {
    value <- records[[field]][whole]
    value[is.na(value)] <- "unknown"
    add(hours_rows(paste0(field, "=", code), hours[value == code], context$weeks, context$weekly, context$a))
  }
  add(hours_rows("all", hours, context$weeks, context$weekly, context$a))
  grouped("escort_grade", CODES$escort_grade)
  grouped("second_escort", CODES$second_escort)
  two <- !is.na(records$second_escort[whole]) & records$second_escort[whole] != "none"
  add(hours_rows("with_second_escort", hours[two], context$weeks, context$weekly, context$a))
  for (code in c("clinical", "non-clinical", "repatriation"))
    add(hours_rows(paste0("reason_group=", code), hours[records$reason_group[whole] %in% code], context$weeks, context$weekly, context$a))
  add(row("people_whole_time", "all", (sum(hours) + sum(hours[two])) / context$weeks / context$weekly))
  ours <- kind %in% c("whole", "incomplete")
  out <- records$out_of_hours[ours]
  limits <- if (sum(!is.na(out))) wilson(sum(out == "yes", na.rm = TRUE), sum(!is.na(out)), context$a) else c(NA, NA, NA)
  add(row("out_of_hours", "absences", limits[1], limits[2], limits[3], sum(out == "yes", na.rm = TRUE)))
  cover <- factor(records$base_cover[ours], levels = CODES$base_cover)
  counts <- tabulate(cover, 3)
  mix <- if (sum(counts)) goodman(counts, context$a) else matrix(NA, 3, 3)
  for (i in 1:3) add(row("base_cover", CODES$base_cover[i], mix[1, i], mix[2, i], mix[3, i], counts[i]))
  short <- if (sum(counts)) wilson(sum(counts[2:3]), sum(counts), context$a) else c(NA, NA, NA)
  add(row("base_cover", "reduced or uncovered", short[1], short[2], short[3], sum(counts[2:3])))
  if (length(whole)) for (r in time_rows(records[whole, ], units, context, row)) add(r)
  do.call(rbind, put)
}

# What depends on the hour of day and on who else is away.
time_rows <- function(records, units, context, row) {
  from <- records$team_ready_at
  to <- records$returned_at
  m <- minutes_of(from, to)
  local <- m$at + zone_offset(m$at, context$zone)
  day <- floor(local / 1440)
  slot <- ((day + 3) %% 7) * 24 + floor((local %% 1440) / 60)
  monday <- floor((day + 3) / 7)
  first <- floor((floor((min(from) + zone_offset(min(from), context$zone)) / 1440) + 3) / 7)
  end <- max(to) - 1
  weeks <- first:max(first, floor((floor((end + zone_offset(end, context$zone)) / 1440) + 3) / 7))
  by_week <- function(x) as.numeric(tapply(x, factor(monday, levels = weeks), sum, default = 0))
  ratio <- if (length(m$at)) block_ratio(by_week(rep(1, length(m$at))), by_week(out_of_hours(m$at, context$settings)), context$a) else c(NA, NA, NA)
  put <- list(row("out_of_hours", "hours", ratio[1], ratio[2], ratio[3]))
  counts <- rep(0, 4)
  weekly <- matrix(0, length(weeks), 4)
  most <- 0
  stretch <- c(0, 0)
  two <- numeric(168)
  for (u in units) {
    at <- m$at[records$sending_unit[m$absence] == u]
    if (!length(at)) next
    w <- at_once(at)
    week <- factor(floor((floor((w$at + zone_offset(w$at, context$zone)) / 1440) + 3) / 7), levels = weeks)
    wall <- w$at + zone_offset(w$at, context$zone)
    slots <- ((floor(wall / 1440) + 3) %% 7) * 24 + floor((wall %% 1440) / 60)
    two <- two + tabulate(slots[w$n >= 2] + 1, 168) / 60
    for (k in 1:4) weekly[, k] <- weekly[, k] + as.numeric(tapply(w$n >= k, week, sum, default = 0))
    most <- max(most, w$n)
    stretch <- pmax(stretch, c(w$longest(1), w$longest(2)))
  }
  level <- paste(1:4, "or more")
  for (k in 1:4) put <- c(put, list(row("hours_with_away", level[k], sum(weekly[, k]) / 60)))
  for (k in 2:4) {
    r <- block_ratio(weekly[, 1], weekly[, k], context$a)
    put <- c(put, list(row("share_of_time_away", level[k], r[1], r[2], r[3])))
  }
  put <- c(put, list(row("most_at_once", "all", most), row("longest_absence", "all", max(to - from) / 60),
                     row("longest_stretch", level[1], stretch[1]), row("longest_stretch", level[2], stretch[2])))
  hours <- tabulate(slot + 1, 168) / 60
  days <- tabulate((context$days + 3) %% 7 + 1, 7)
  group <- sprintf("%s %02d", rep(DAY, each = 24), rep(0:23, 7))
  for (h in 1:168) put <- c(put, list(row("hours_by_hour", group[h], hours[h]),
                                      row("mean_away", group[h], if (days[(h - 1) %/% 24 + 1]) hours[h] / days[(h - 1) %/% 24 + 1] else NA),
                                      row("hours_with_two_by_hour", group[h], two[h])))
  put
}

main <- function() {
  options <- options_read(commandArgs(trailingOnly = TRUE))
  settings <- settings_read(options$network)
  records <- derive(records_read(options$logs, settings)$records, settings)
  keep <- condition_holds(records, settings$include)
  records <- records[!is.na(keep) & keep, ]
  ini <- ini_read(file.path(options$network, "network.ini"))
  minutes <- interval(records, "team_ready_at..returned_at", settings$caps)
  departed <- records$departed
  kind <- ifelse(departed %in% "no" | (!is.na(records$team) & records$team != "sending-unit"), "none",
                 ifelse(is.na(departed) | is.na(records$team), "maybe", ifelse(is.na(minutes), "incomplete", "whole")))
  most <- unname(settings$caps["away"]) / 60
  if (is.na(most)) most <- if (any(kind == "whole")) max(minutes[kind == "whole"]) / 60 else NA
  days <- if (nrow(records)) seq(min(records$day), max(records$day)) else numeric()
  context <- list(a = 1 - as.numeric(options$confidence), weeks = length(days) / 7, days = days, most = most, settings = settings,
                  zone = settings$timezone, weekly = if (is.null(ini$base$weekly_hours)) 48 else as.numeric(ini$base$weekly_hours))
  got <- read.csv(file.path(options$pack, "base-cover.csv"), colClasses = "character", na.strings = character())
  senders <- sort(unique(records$sending_unit), method = "radix")
  for (unit in c("all", senders)) {
    mine <- if (unit == "all") rep(TRUE, nrow(records)) else records$sending_unit == unit
    want <- unit_rows(records[mine, ], kind[mine], minutes[mine], if (unit == "all") senders else unit, context)
    rows <- got[got$unit == unit, ]
    at <- match(paste(want$figure, want$group), paste(rows$figure, rows$group))
    check(!anyNA(at) && !anyDuplicated(at), unit, ": rows of the table")
    for (column in c("events", "estimate", "lower", "upper")) {
      value <- want[[c(events = "events", estimate = "X1", lower = "X2", upper = "X3")[[column]]]]
      good <- number_same(value, rows[[column]][at])
      tests$passed <- tests$passed + sum(good)
      for (i in which(!good))
        check(good[i], unit, " ", want$figure[i], " ", want$group[i], " ", column, ": ", value[i], ", got ", rows[[column]][at[i]])
    }
  }
  cat(tests$passed, " passed, ", tests$failed, " failed\n", sep = "")
  if (tests$failed > 0) quit(status = 1)
}

main()
