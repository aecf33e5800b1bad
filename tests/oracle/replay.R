#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
# The oracle of `replay --requests`: an event loop of its own, written from the rules of src/replay/engine.h and the manual,
# in base R on canonical logs. Each request's end, team and minutes must be equal; so must travel times and shares.
#
#   Rscript tests/oracle/replay.R --network DIR --pack DIR [--rules FILE] LOG...
#
# Ends with `N passed, N failed`: one test for each scenario's list of requests, pair of units and figure.

ORACLE_PART <- TRUE
here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE)[1]))
source(file.path(here, "summary.R"))

URGENCIES <- c("time-critical", "urgent", "planned")
DAYS <- c("sun", "mon", "tue", "wed", "thu", "fri", "sat") # day 0 of 1970 was a Thursday
half_up <- function(x) floor(x + 0.5)
median2 <- function(x) if (length(x)) unname(quantile(x, 0.5, type = 2)) else NA_real_

# ---- Rules ------------------------------------------------------------------------------------------------------------------

value_of <- function(section, key, default) if (is.null(section[[key]])) default else section[[key]]

hours_read <- function(section, from = 0, to = 1440) {
  text <- value_of(section, "hours", if (to - from == 1440) "24h" else NA)
  if (!is.na(text) && text != "24h") {
    ends <- vapply(strsplit(text, "-", fixed = TRUE)[[1]], clock_minutes, 0)
    from <- ends[1]
    to <- ends[2] + if (ends[2] < ends[1]) 1440 else 0
  }
  list(from = from, to = to, days = list_of(value_of(section, "days", paste(DAYS, collapse = ";"))))
}

rules_read <- function(path, settings) {
  ini <- if (is.null(path)) list() else ini_read(path)
  r <- ini$rules
  minutes <- function(key, default) { v <- value_of(r, key, default); if (v == "logs") NA else as.numeric(v) }
  waits <- vapply(URGENCIES, function(u) value_of(ini$wait, u, c("no", "120", "720")[match(u, URGENCIES)]), "")
  teams <- ini[grep("^team ", names(ini))]
  rosters <- ini[grep("^roster ", names(ini))]
  if (length(rosters)) {
    names(rosters) <- sub("^roster ", "", names(rosters))
    rosters <- lapply(rosters, hours_read)
  } else {
    rosters <- list("round-the-clock" = hours_read(list()),
                    "days" = list(from = settings$day_starts, to = settings$day_ends, days = DAYS))
  }
  takes <- list_of(value_of(r, "takes", paste(URGENCIES, collapse = ";")))
  list(teams = if (length(teams)) length(teams) else as.integer(value_of(r, "teams", "8")),
       bases = list_of(value_of(r, "bases", "")), named = teams, rosters = rosters, takes = takes,
       mobilisation = minutes("mobilisation", "30"), same_site = minutes("same_site", "10"),
       stabilisation = minutes("stabilisation", "logs"), handover = minutes("handover", "logs"),
       typical = minutes("typical_journey", "logs"), speed = minutes("speed", "logs"),
       unknown = value_of(r, "unknown_urgency", "urgent"), offered = value_of(r, "offered", ""),
       wait = ifelse(waits == "no", 0, ifelse(waits == "any", Inf, suppressWarnings(as.numeric(waits)))))
}

# ---- What the logs show -----------------------------------------------------------------------------------------------------

travel_of <- function(records, caps, rules) {
  known <- !is.na(records$receiving_unit)
  pair <- ifelse(known, paste(pmin(records$sending_unit, records$receiving_unit),
                              pmax(records$sending_unit, records$receiving_unit)), NA)
  minutes <- interval(records, "departed_at..arrived_at", caps)
  minutes[!known | records$vehicle %in% c("helicopter", "fixed-wing")] <- NA
  speed <- records$distance_km / (minutes / 60)
  speed <- if (is.na(rules$speed)) median2(speed[is.finite(speed) & speed > 0]) else rules$speed
  typical <- if (is.na(rules$typical)) half_up(median2(minutes[!is.na(minutes)])) else rules$typical
  journeys <- lapply(split(minutes, pair), function(m) m[!is.na(m)])
  km <- vapply(split(records$distance_km, pair), function(d) median2(d[!is.na(d)]), 0)
  function(a, b) {
    if (!is.na(a) && !is.na(b) && a == b) return(list(minutes = rules$same_site, basis = "same-site", n = 0, km = 0))
    key <- paste(min(a, b), max(a, b))
    if (is.na(a) || is.na(b) || is.null(journeys[[key]]))
      return(list(minutes = typical, basis = "typical", n = 0, km = NA))
    n <- length(journeys[[key]])
    if (n) list(minutes = half_up(median2(journeys[[key]])), basis = "journeys", n = n, km = km[[key]])
    else if (!is.na(km[[key]]) && !is.na(speed))
      list(minutes = half_up(km[[key]] / speed * 60), basis = "distance", n = 0, km = km[[key]])
    else list(minutes = typical, basis = "typical", n = 0, km = km[[key]])
  }
}

stay_of <- function(records, caps, rules) {
  if (!is.na(rules$stabilisation)) return(setNames(rep(rules$stabilisation, 3), URGENCIES))
  minutes <- interval(records, "at_patient_at..departed_at", caps)
  class <- ifelse(is.na(records$urgency), rules$unknown, records$urgency)
  vapply(URGENCIES, function(u) {
    m <- minutes[class == u & !is.na(minutes)]
    half_up(median2(if (length(m)) m else minutes[!is.na(minutes)]))
  }, 0)
}

requests_of <- function(records, rules) {
  offered <- condition_holds(records, if (rules$offered == "all") "" else rules$offered)
  q <- records[!is.na(records$requested_at) & (is.na(offered) | offered), ]
  q$class <- match(ifelse(is.na(q$urgency), rules$unknown, q$urgency), URGENCIES)
  q[order(q$requested_at, q$class, seq_len(nrow(q))), ]
}

bases_of <- function(q, rules) {
  if (length(rules$named)) return(vapply(rules$named, function(t) t$base, ""))
  counts <- table(q$sending_unit)
  own <- names(counts)[order(-counts, match(names(counts), sort(names(counts), method = "radix")))]
  rep_len(if (length(rules$bases)) rules$bases else own, rules$teams)
}

# ---- The loop ---------------------------------------------------------------------------------------------------------------

# Instants at which each team's shifts begin and end, a row each.
shifts_of <- function(hours, days, zone) {
  starts <- days[DAYS[(days + 4) %% 7 + 1] %in% hours$days]
  clock <- function(wall) {
    at <- wall_instants(wall, zone)[, 1]
    ifelse(is.na(at), wall - zone_offset(wall - 1560, zone), at)
  }
  cbind(clock(starts * 1440 + hours$from), clock(starts * 1440 + hours$to))
}

on_duty <- function(shift, at) {
  i <- findInterval(at, shift[, 1])
  i > 0 && at < shift[i, 2]
}

# Minute by minute that matters: whoever is due back, whoever's shift begins, whoever asks.
simulate <- function(q, teams, shifts, takes, reach, busy, wait) {
  n <- nrow(q)
  state <- rep("left-off-duty", n)
  team <- sent <- rep(NA_real_, n)
  free <- rep(-Inf, teams)
  waiting <- integer()
  i <- 1
  now <- -Inf
  while (i <= n || length(waiting)) {
    due <- if (i <= n) q$requested_at[i] else Inf
    if (length(waiting) && teams) {
      back <- free[free > now]
      begins <- vapply(seq_len(teams), function(k) {
        j <- findInterval(now, shifts[[k]][, 1]) + 1
        if (j <= nrow(shifts[[k]])) shifts[[k]][j, 1] else Inf
      }, 0)
      due <- min(due, back, begins)
    }
    if (!is.finite(due)) break
    now <- due
    ready <- vapply(seq_len(teams), function(k) free[k] <= now && on_duty(shifts[[k]], now), NA)
    duty <- vapply(seq_len(teams), function(k) on_duty(shifts[[k]], now), NA)
    while (i <= n && q$requested_at[i] == now) {
      if (any(duty & takes[seq_len(teams), q$class[i]])) state[i] <- "left-busy"
      waiting <- c(waiting, i)
      i <- i + 1
    }
    waiting <- waiting[q$requested_at[waiting] + wait[q$class[waiting]] >= now]
    for (r in waiting[order(q$class[waiting], waiting)]) {
      able <- which(ready & takes[seq_len(teams), q$class[r]])
      if (!length(able)) next
      k <- able[which.min(reach[r, able])]
      state[r] <- "reached"
      team[r] <- k
      sent[r] <- now
      free[k] <- now + busy[r, k]
      if (busy[r, k] > 0) ready[k] <- FALSE
      waiting <- setdiff(waiting, r)
    }
    waiting <- waiting[q$requested_at[waiting] + wait[q$class[waiting]] > now]
  }
  data.frame(state, team, sent)
}

# ---- All of it --------------------------------------------------------------------------------------------------------------

same <- function(a, b) (is.na(a) & is.na(b)) | (!is.na(a) & !is.na(b) & a == b)

compare_scenario <- function(name, got, want) {
  bad <- which(!(got$state == want$state & same(got$team, want$team) & same(got$sent_after, want$sent_after) &
                   same(got$bedside_after, want$bedside_after) & same(got$free_after, want$free_after)))
  check(nrow(got) == nrow(want) && !length(bad), name, ": ", length(bad), " requests differ, the first is number ",
        if (length(bad)) paste(bad[1], paste(got[bad[1], ], collapse = " "), "/", paste(want[bad[1], ], collapse = " ")))
}

compare_figures <- function(figures, roster, teams, q, run, own, weeks) {
  figure <- function(name) figures$estimate[figures$roster == roster & figures$teams == teams & figures$measure == name]
  hit <- run$state == "reached"
  waits <- run$bedside_after[hit]
  want <- c(requests = nrow(q), requests_reached = sum(hit), requests_left_busy = sum(run$state == "left-busy"),
            reached = mean(hit), reached_time_critical = mean(hit[q$class == 1]), reached_planned = mean(hit[q$class == 3]),
            wait_median = if (any(hit)) unname(quantile(waits, 0.5, type = 2)) else NA,
            wait_p90 = if (any(hit)) unname(quantile(waits, 0.9, type = 2)) else NA,
            kept_transfers = sum(!hit & own$own) / weeks, kept_hours = sum(own$hours[!hit & own$own]) / weeks)
  for (name in names(want))
    check(number_same(want[[name]], figure(name)), roster, ", ", teams, " teams, ", name, ": ", want[[name]], ", got ", figure(name))
}

own_hours <- function(q, caps) {
  own <- q$departed %in% "yes" & q$team %in% "sending-unit"
  hours <- ifelse(own, interval(q, "team_ready_at..returned_at", caps) / 60, 0)
  list(own = own, hours = ifelse(is.na(hours), mean(hours[own & !is.na(hours)]), hours))
}

main <- function() {
  options <- options_read(commandArgs(trailingOnly = TRUE))
  settings <- settings_read(options$network)
  records <- derive(records_read(options$logs, settings)$records, settings)
  keep <- condition_holds(records, settings$include)
  records <- records[!is.na(keep) & keep, ]
  rules <- rules_read(options$rules, settings)
  q <- requests_of(records, rules)
  base <- bases_of(q, rules)
  leg <- travel_of(records, settings$caps, rules)
  minutes <- Vectorize(function(a, b) leg(a, b)$minutes)
  stay <- stay_of(records, settings$caps, rules)
  handover <- interval(records, "arrived_at..handed_over_at", settings$caps)
  handover <- if (is.na(rules$handover)) half_up(median2(handover[!is.na(handover)])) else rules$handover
  trip <- paste(q$sending_unit, q$receiving_unit)
  one <- !duplicated(trip)
  spread <- function(values) values[match(trip, trip[one]), , drop = FALSE]
  to <- spread(outer(q$sending_unit[one], base, function(a, b) minutes(b, a)))
  home <- spread(outer(q$receiving_unit[one], base, function(a, b) minutes(a, b)))
  loaded <- minutes(q$sending_unit[one], q$receiving_unit[one])[match(trip, trip[one])]
  reach <- rules$mobilisation + to
  busy <- reach + stay[q$class] + loaded + handover + home
  takes <- t(vapply(seq_len(rules$teams), function(k) {
    t <- if (length(rules$named)) value_of(rules$named[[k]], "takes", NULL)
    URGENCIES %in% (if (is.null(t)) rules$takes else list_of(t))
  }, logical(3)))
  days <- range(local_day(q$requested_at, settings$timezone))
  weeks <- (days[2] - days[1] + 1) / 7
  own <- own_hours(q, settings$caps)
  got <- read.csv(file.path(options$pack, "requests.csv"), colClasses = c(base = "character"), na.strings = "")
  figures <- read.csv(file.path(options$pack, "replay.csv"), colClasses = c(estimate = "character"), na.strings = character())
  for (name in names(rules$rosters)) {
    shifts <- lapply(seq_len(rules$teams), function(k) {
      t <- if (length(rules$named)) rules$named[[k]]
      own <- !is.null(t$hours) || !is.null(t$days)
      shifts_of(if (own) hours_read(t) else rules$rosters[[name]], (days[1] - 8):(days[2] + 8), settings$timezone)
    })
    for (teams in 0:rules$teams) {
      run <- simulate(q, teams, shifts, takes, reach, busy, rules$wait)
      at <- cbind(seq_len(nrow(q)), run$team)
      want <- data.frame(state = run$state, team = run$team, sent_after = run$sent - q$requested_at)
      want$bedside_after <- want$sent_after + reach[at]
      want$free_after <- want$sent_after + busy[at]
      compare_scenario(paste0(name, ", ", teams, " teams"), got[got$roster == name & got$teams == teams, ], want)
      compare_figures(figures, name, teams, q, want, own, weeks)
    }
  }
  travel <- read.csv(file.path(options$pack, "travel.csv"), na.strings = "", colClasses = c(from = "character", to = "character"))
  for (i in seq_len(nrow(travel))) {
    want <- leg(travel$from[i], travel$to[i])
    check(travel$minutes[i] == want$minutes && travel$basis[i] == want$basis && travel$journeys[i] == want$n,
          travel$from[i], " to ", travel$to[i], ": ", want$minutes, " by ", want$basis, ", got ", travel$minutes[i])
  }
  cat(tests$passed, " passed, ", tests$failed, " failed\n", sep = "")
  if (tests$failed > 0) quit(status = 1)
}

main()
