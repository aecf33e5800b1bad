#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
# The oracle of changes.csv: every test of change over time worked out afresh from canonical logs, from the written
# definitions (src/stats/change.h, src/measure/series.h, coverage.h), in base R.
#
#   Rscript tests/oracle/changes.R [--network DIR] [--period P] [--confidence C] [--truth FILE] --pack DIR LOG...
#
# Ends with `N passed, N failed`: one test for each row and column.

ORACLE_PART <- TRUE
here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE)[1]))
source(file.path(here, "summary.R"))
source(file.path(here, "ranks.R"))
options(warn = -1)

# ---- Cells: x events, n records, exposure or weeks, v squares, minutes, whole ----------------------------------------------

# Share of a period's days that lie in runs of days without a record that are too long for chance; 1 of fewer than two days.
missing_days <- function(days) {
  if (length(unique(days)) < 2) return(function(from, to) 1)
  longest <- log(100 * length(days)) * (max(days) - min(days) + 1) / length(days)
  seen <- sort(unique(days))
  function(from, to) {
    starts <- c(min(from, LOW), seen + 1)
    ends <- c(seen, max(to, HIGH + 1))
    long <- ends - starts > longest
    sum(pmax(0, pmin(ends, to) - pmax(starts, from))[long]) / (to - from)
  }
}

# A unit's own log: what it sent and recorded itself, so long as that spans two days; else all that it sent. The network: all
# logs as one, and fewer than one in twenty of the records sent by units whose log has a gap there.
own_days <- function(records, unit) {
  sent <- records$sending_unit == unit
  own <- sent & (is.na(records$recorded_by) | records$recorded_by == unit)
  records$day[if (length(unique(records$day[own])) > 1) own else sent]
}
# Beside the network's trend of a volume: that of the units whose logs have a record in every month that all logs together cover.
steady_of <- function(records, senders, counted, periods) {
  month <- month_of(records$day)
  together <- missing_days(records$day)
  covered <- vapply(seq_len(nrow(periods)), function(i) together(month_start(periods$from[i]), month_start(periods$to[i] + 1)) < 0.1, TRUE)
  steady <- senders[vapply(senders, function(u) all(periods$from[covered] %in% month_of(own_days(records, u))), TRUE)]
  if (!any(covered) || !length(steady)) return(c(NA, NA, NA))
  mine <- month[counted & records$sending_unit %in% steady]
  m <- list(k = sum(covered), some = covered, x = tabulate(match(mine, periods$from), nrow(periods)), cluster = 1,
            n = (vapply(periods$to + 1, month_start, 0) - vapply(periods$from, month_start, 0)) / 7)
  c(length(steady), trend_of("count", m, 12))
}
coverage_of_all <- function(records, senders) {
  logs <- lapply(senders, own_days, records = records)
  lacks <- lapply(logs, missing_days)
  together <- missing_days(records$day)
  speaks <- vapply(logs, function(d) length(unique(d)) > 1, TRUE)
  sent <- vapply(senders, function(u) sum(records$sending_unit == u), 0)
  network <- function(from, to) together(from, to) < 0.1 &&
    sum((sent * vapply(lacks, function(f) f(from, to), 0))[speaks]) / length(records$day) < 0.05
  c(list(network), lapply(lacks, function(f) function(from, to) f(from, to) < 0.1))
}

# stratum: urgency of each record, unknown being one, too; open: those of the records of which it is not known
cell_of <- function(measure, got, stratum, rows, open, period, covered) {
  value <- got$value[rows]
  with_records(measure, list(u = length(open), open = stratum[open], records = length(value), covered = covered, x = if (measure == "count") length(value) else sum(value), v = sum(value^2),
       minutes = value, by = stratum[rows],
       n = switch(measure, share = length(value), rate = sum(got$exposure[rows]), quantile = length(value),
                  count = (month_start(period$to + 1) - month_start(period$from)) / 7)))
}
with_records <- function(measure, cell) { # a period without records takes no part
  cell$whole <- cell$covered && (measure == "count" || cell$n > 0)
  cell
}
value_of <- function(measure, cell) if (measure == "quantile") order_statistics(cell$minutes, 50, 0.05)[1] else cell$x / cell$n

# ---- Tests -----------------------------------------------------------------------------------------------------------------

mean_range <- function(v) mean(abs(diff(v)), na.rm = TRUE)

model_of <- function(measure, cells) {
  some <- vapply(cells, `[[`, TRUE, "whole")
  x <- vapply(cells, `[[`, 0, "x"); n <- vapply(cells, `[[`, 0, "n")
  value <- vapply(cells, function(c) value_of(measure, c), 0)
  value[!some] <- NA
  m <- list(k = sum(some), df = 0.62 * (sum(some) - 1), value = value, some = some, x = x, n = n, cluster = 1)
  if (measure == "quantile") {
    m$centre <- mean(value, na.rm = TRUE); m$sigma <- mean_range(value) / 1.128
    m$minutes <- lapply(seq_along(cells), function(i) if (some[i]) cells[[i]]$minutes)
    m$by <- lapply(seq_along(cells), function(i) if (some[i]) cells[[i]]$by)
    m$level <- aligned(m)
    return(m)
  }
  if (measure == "rate" && sum(x[some]) > 0) m$cluster <- max(1, sum(vapply(cells[some], `[[`, 0, "v")) / sum(x[some]))
  m$centre <- sum(x[some]) / sum(n[some])
  z <- (value - m$centre) / sqrt(m$centre * (if (measure == "share") 1 - m$centre else 1) / n)
  sigma <- mean_range(z) / 1.128
  m$sigma <- max(sqrt(m$cluster), if (is.finite(sigma)) sigma else 1)
  m$level <- m$value
  m
}

# Medians of durations from which the median that their urgency has over all periods was taken away, that of all put back.
median2 <- function(x) order_statistics(x, 50, 0.05)[1]
aligned <- function(m) {
  if (!any(m$some)) return(m$value)
  middle <- tapply(unlist(m$minutes), unlist(m$by), median2)
  usual <- median2(unlist(m$minutes))
  vapply(seq_along(m$some), function(i) if (m$some[i]) usual + median2(m$minutes[[i]] - middle[m$by[[i]]]) else NA_real_, 0)
}

# p of a period's durations against those of all others within urgency; 1 if they lie on the other side of them.
others_p <- function(m, i) {
  strata <- unique(unlist(m$by))
  r <- van_elteren(by_strata(m$minutes[[i]], m$by[[i]], strata), by_strata(unlist(m$minutes[-i]), unlist(m$by[-i]), strata))
  if (is.na(r[1]) || r[2] * sign(m$value[i] - m$centre) < 0) 1 else r[1]
}

tails_of <- function(measure, m) vapply(seq_along(m$some), function(i) {
  if (!m$some[i] || is.na(m$centre)) return(NA_real_)
  x <- m$x[i]; n <- m$n[i]; p <- m$centre
  if (measure == "quantile") {
    if (!isTRUE(m$sigma > 0)) return(if (isTRUE(m$sigma == 0)) 1 else NA)
    return(max(2 * pt(-abs(m$value[i] - p) / m$sigma, m$df), others_p(m, i)))
  }
  if (measure == "share" && n * p * (1 - p) < 10) return(min(1, 2 * min(pbinom(x, n, p), pbinom(x - 1, n, p, lower.tail = FALSE))))
  if (measure != "share" && n * p < 10) {
    if (n * p == 0) return(NA)
    w <- m$cluster
    upper <- if (x > 0) pgamma(n * p / w, x / w) else 1
    return(min(1, 2 * min(upper, pgamma(n * p / w, x / w + 1, lower.tail = FALSE))))
  }
  z <- abs(m$value[i] - p) / (sqrt(p * (if (measure == "share") 1 - p else 1) / n) * m$sigma)
  if (m$sigma > sqrt(m$cluster)) 2 * pt(-z, m$df) else 2 * pnorm(-z)
}, 0)

# Points above and below a line, in any order: P(longest run >= length) and P(crossings <= most), point by point: how likely
# it is to have i above so far, the last on a side, with a run of r (`length`: of that or more, now or before).
orders_p <- function(above, below, length, most) {
  n <- above + below
  if (above == 0 || below == 0) return(c(1, 1))
  run <- array(0, c(above + 1, 2, length)); cross <- array(0, c(above + 1, 2, n))
  run[2, 1, min(1, length)] <- cross[2, 1, 1] <- above / n
  run[1, 2, min(1, length)] <- cross[1, 2, 1] <- below / n
  for (t in seq_len(n - 1)) {
    next_run <- array(0, dim(run)); next_cross <- array(0, dim(cross))
    for (i in max(0, t - below):min(t, above)) for (last in 1:2) for (side in 1:2) {
      left <- if (side == 1) above - i else below - (t - i)
      if (left == 0) next
      p <- left / (n - t); to <- i + 1 + (side == 1)
      for (r in seq_len(length)) {
        now <- if (r == length) length else if (side == last) r + 1 else 1
        next_run[to, side, now] <- next_run[to, side, now] + p * run[i + 1, last, r]
      }
      at <- if (side == last) 1:n else 2:n # place k: k - 1 crossings
      next_cross[to, side, at] <- next_cross[to, side, at] + p * cross[i + 1, last, seq_along(at)]
    }
    run <- next_run; cross <- next_cross
  }
  c(sum(run[, , length]), sum(cross[, , seq_len(min(n, most + 1))]))
}

shift_of <- function(m) {
  value <- m$level[!is.na(m$level)]
  side <- sign(value - order_statistics(sort(value), 50, 0.05)[1])
  side <- side[side != 0]
  if (length(side) < 10) return(NA)
  min(1, 2 * min(orders_p(sum(side > 0), sum(side < 0), max(rle(side)$lengths), sum(diff(side) != 0))))
}

trend_of <- function(measure, m, per_year) {
  if (m$k < 4) return(c(NA, NA))
  at <- which(m$some); t <- (at - 1) / per_year
  if (measure == "quantile") {
    v <- m$level[at]
    pairs <- combn(length(v), 2)
    slopes <- sort(apply(pairs, 2, function(k) (v[k[2]] - v[k[1]]) / (t[k[2]] - t[k[1]])))
    slope <- median(slopes)
    K <- length(v); N <- length(slopes)
    M <- floor((N - qnorm(1 - ALPHA / 2) * sqrt(K * (K - 1) * (2 * K + 5) / 18)) / 2)
    limits <- if (M >= 1) c(slopes[M], slopes[N + 1 - M]) else c(NA, NA)
    if (length(unique(v)) == 1) return(c(slope, NA, limits))
    exact <- length(v) < 50 && !anyDuplicated(v)
    return(c(slope, cor.test(t, v, method = "kendall", exact = exact, continuity = TRUE)$p.value, limits))
  }
  x <- m$x[at] / m$cluster; n <- m$n[at] / m$cluster
  if (sum(x) == 0 || (measure == "share" && sum(x) == sum(n))) return(c(NA, NA))
  fit <- if (measure == "share") glm(cbind(x, n - x) ~ t, family = quasibinomial(), control = list(epsilon = 1e-14, maxit = 100)) else
    glm(x ~ t + offset(log(n)), family = quasipoisson(), control = list(epsilon = 1e-14, maxit = 100))
  s <- summary(fit)
  if (abs(coef(fit)[2]) > 50) return(c(Inf * sign(coef(fit)[2]), NA))
  phi <- s$dispersion
  # a dispersion of 0 (every period alike) has a standard error, too
  z <- coef(fit)[2] / (summary(fit, dispersion = 1)$coefficients[2, 2] * sqrt(max(1, phi)))
  c(exp(coef(fit)[2]), if (phi > 1) 2 * pt(-abs(z), length(at) - 2) else 2 * pnorm(-abs(z)))
}

# Between years what differs from period to period is allowed for: the factor by which the periods' standardised values (of
# durations, their sums of ranks within urgency) range more than chance.
spread_of <- function(measure, m, cells) {
  if (measure != "quantile") return(max(1, m$sigma / sqrt(m$cluster), na.rm = TRUE))
  some <- vapply(cells, `[[`, TRUE, "whole")
  k <- rep(seq_along(cells), ifelse(some, vapply(cells, function(c) length(c$minutes), 0L), 0L))
  by <- unlist(lapply(cells[some], `[[`, "by"))
  minutes <- unlist(lapply(cells[some], `[[`, "minutes"))
  sums <- variances <- 0 * seq_along(cells)
  for (s in unique(by)) { # each period's sum of ranks, weighted as van Elteren does
    r <- rank(minutes[by == s]); N <- length(r)
    n <- tabulate(k[by == s], length(cells))
    part <- n > 0 & n < N
    sums[part] <- sums[part] + (vapply(which(part), function(i) sum(r[k[by == s] == i]), 0) - n[part] * (N + 1) / 2) / (N + 1)
    variances[part] <- variances[part] + var(r) * n[part] * (1 - n[part] / N) / (N + 1)^2
  }
  z <- sums / sqrt(variances)
  z[!some | variances == 0] <- NA
  max(1, mean_range(z) / 1.128, na.rm = TRUE)
}
year_step <- function(measure, now, then, spread, a = ALPHA) {
  if (measure == "count") return(step_of(measure, now, then, spread^2))
  s <- step_of(measure, now, then, 1, if (spread > 1) 2 * pnorm(qnorm(a / 2) * spread) else a)
  if (spread > 1) {
    z <- if (measure == "quantile") step_deviate(now, then) else NA
    s[4] <- 2 * pnorm(-abs(if (is.na(z)) qnorm(max(s[4] / 2, .Machine$double.xmin)) else z) / spread)
  }
  s
}

step_deviate <- function(now, then) {
  strata <- unique(c(now$by, then$by))
  van_elteren_deviate(by_strata(now$minutes, now$by, strata), by_strata(then$minutes, then$by, strata))
}

# now, then, effect, p, side, limits of the effect (of durations in several strata; else not worked out). a NA: no effect of
# durations, of which settled ones have none.
step_of <- function(measure, now, then, dispersion, a = ALPHA) {
  if (measure == "quantile") {
    strata <- unique(c(now$by, then$by))
    x <- by_strata(now$minutes, now$by, strata); y <- by_strata(then$minutes, then$by, strata)
    ranks <- van_elteren(x, y); shift <- if (is.na(a)) c(NA, NA, NA) else shift_within(x, y, a)
    return(c(value_of(measure, now), value_of(measure, then), shift[1], ranks[1:2], shift[2:3]))
  }
  s <- step_of_counts(measure, now, then, dispersion)
  c(s, sign(s[1] - s[2]), NA, NA)
}
step_of_counts <- function(measure, now, then, dispersion) {
  a <- value_of(measure, now); b <- value_of(measure, then)
  if (measure == "share") {
    d <- dhyper(0:now$n, now$x + then$x, now$n + then$n - now$x - then$x, now$n)
    at <- now$x + 1
    p <- min(1, 2 * min(sum(d[seq_len(at - 1)]), sum(d[-seq_len(at)])) + d[at])
    return(c(a, b, a - b, p))
  }
  clustered <- measure == "rate" && (now$v > now$x || then$v > then$x)
  if (now$x == 0 || then$x == 0 || !(clustered || (measure == "count" && dispersion > 1))) {
    p <- if (now$x + then$x == 0) 1 else poisson.test(c(now$x, then$x), c(now$n, then$n))$p.value
    return(c(a, b, a / b, p))
  }
  variance <- function(c) (if (measure == "rate") c$v else c$x * dispersion) / c$x^2
  c(a, b, a / b, 2 * pnorm(-abs(log(a / b)) / sqrt(variance(now) + variance(then))))
}

# The most extreme gap between rare events, given how many fell where they did.
gap_of <- function(measure, days, counts) {
  at <- order(days)
  days <- days[at]; counts <- counts[at]
  if (measure == "share") {
    where <- which(counts > 0); gap <- diff(where) - 1; x <- length(where); n <- length(days)
    upper <- exp(lchoose(n - gap, x) - lchoose(n, x)); beyond <- exp(lchoose(n - gap - 1, x) - lchoose(n, x))
  } else {
    where <- rep(seq_along(days), counts); gap <- diff(days[where]); x <- length(where); n <- max(days) - min(days) + 1
    upper <- pmax(0, 1 - gap / n)^x; beyond <- pmax(0, 1 - (gap + 1) / n)^x
  }
  two <- 2 * pmin(upper, 1 - beyond)
  k <- which.min(two)
  list(p = min(1, length(gap) * two[k]), gap = gap[k], mean = mean(gap), day = days[where][k + 1], gaps = length(gap))
}

# ---- Worst case for the unknown --------------------------------------------------------------------------------------------

# A period whose unknown records are events (long durations), or none (short ones); each of a rate has the mean exposure.
settle <- function(measure, cell, events, exposure) {
  u <- cell$u
  if (measure == "quantile") { cell$minutes <- c(cell$minutes, rep(if (events) 1e9 else -1, u)); cell$by <- c(cell$by, cell$open) }
  else if (events) { cell$x <- cell$x + u; cell$v <- cell$v + u }
  cell$n <- cell$n + switch(measure, share = , quantile = u, rate = u * exposure, count = 0)
  with_records(measure, cell)
}
doubt <- function(cells) sum(vapply(cells, function(c) if (c$covered) c$u else 0, 0))
mean_exposure <- function(cells) { n <- sum(vapply(cells, `[[`, 0, "records")); if (n > 0) sum(vapply(cells, `[[`, 0, "n")) / n else 0 }
goes <- function(up, from, to) isTRUE(to != from && (to > from) == up)

# p of a test of the series if `against` says which periods speak against it, the others for it.
worst_series <- function(measure, cells, up, against, p_of) {
  if (doubt(cells) == 0) return(NULL)
  each <- mean_exposure(cells)
  cells <- Map(function(cell, spoils) settle(measure, cell, spoils != up, each), cells, against)
  p_of(cells, model_of(measure, cells))
}
worst_step <- function(measure, cells, now, then, up, step) {
  if (now$u + then$u == 0) return(NULL)
  each <- mean_exposure(cells)
  now <- settle(measure, now, !up, each); then <- settle(measure, then, up, each)
  s <- step(now, then, NA)
  if (s[5] == (if (up) 1 else -1)) s[4] else 1
}

# ---- Series ----------------------------------------------------------------------------------------------------------------

row_of <- function(unit, indicator, group, kind, period, against, estimate, reference, effect, p)
  data.frame(unit = unit, indicator = indicator, group = group, kind = kind, period = period, against = against, estimate = estimate,
             reference = reference, effect = effect, p = p, steady_units = NA, steady_estimate = NA, steady_p = NA, stringsAsFactors = FALSE)

rare_point <- function(measure, got, used, records, times) {
  centre <- gap_of(measure, records$day[used], got$value[used])
  y <- NULL
  if (measure == "rate") { # the centre line of a t chart, back on the scale of days
    at <- used[order(records$day[used])]
    days <- records$day[at][rep(seq_along(at), got$value[at])]
    centre$mean <- mean(diff(days)^0.2777)^(1 / 0.2777)
  }
  centre
}

series_rows <- function(unit, indicator, group, measure, got, mine, doubtful, records, periods, quarters, years, whole, span, per_year) {
  name <- indicator$indicator
  month <- month_of(records$day)
  stratum <- as.character(records$urgency); stratum[is.na(stratum)] <- "unknown"
  cells_in <- function(p) lapply(seq_len(nrow(p)), function(i)
    cell_of(measure, got, stratum, which(mine & month >= p$from[i] & month <= p$to[i]), which(doubtful & month >= p$from[i] & month <= p$to[i]), p[i, ],
            whole(month_start(p$from[i]), month_start(p$to[i] + 1))))
  within <- periods$from <= span[2] & periods$to >= span[1]
  cells <- cells_in(periods[within, ])
  m <- model_of(measure, cells)
  out <- list()
  add <- function(..., unknown, worst, limits = c(NA, NA)) {
    row <- row_of(unit, name, group, ...)
    if (is.na(row$p)) return()
    worse <- if (row$p <= 0.05) worst # worked out now, and only then
    out[[length(out) + 1]] <<- cbind(row, lower = limits[1], upper = limits[2], unknown = unknown, worst_p = if (row$p > 0.05) NA else if (is.null(worse)) row$p else worse)
  }
  of_all <- doubt(cells)
  total <- sum(m$x)
  if (per_year == 12 && measure %in% c("share", "rate") && total > 4 && total < length(cells)) {
    g <- rare_point(measure, got, which(mine & month >= span[1] & month <= span[2]), records)
    if (g$gaps >= 4) add("point", format(as.Date(g$day, origin = "1970-01-01"), "%Y-%m"), "", g$gap, g$mean, NA, g$p,
                           unknown = of_all, worst = if (of_all) NA)
  } else if (m$k >= (if (measure == "quantile") 12 else 4)) {
    tails <- tails_of(measure, m)
    if (!all(is.na(tails))) {
      k <- which.min(tails)
      up <- isTRUE(m$value[k] > m$centre)
      add("point", periods$name[within][k], "", m$value[k], m$centre, NA, min(1, m$k * tails[k]), unknown = of_all,
          worst = worst_series(measure, cells, up, seq_along(cells) == k, function(cells, m)
            if (goes(up, m$centre, m$value[k])) min(1, m$k * tails_of(measure, m)[k], na.rm = TRUE) else 1))
    }
  }
  half <- length(cells) %/% 2
  late <- seq_along(cells) > half
  pooled <- function(at, m) {
    at <- at[m$some[at]]
    if (measure == "quantile") median2(m$level[at]) else sum(m$x[at]) / sum(m$n[at])
  }
  if (m$k > 0) {
    halves <- function(m) c(pooled(which(!late), m), pooled(which(late), m))
    was <- halves(m)
    up <- isTRUE(was[2] > was[1])
    add("shift", "all", "", was[2], was[1], NA, shift_of(m), unknown = of_all, worst = worst_series(measure, cells, up, late, function(cells, m) {
      now <- halves(m)
      if (goes(up, now[1], now[2])) shift_of(m) else 1
    }))
  }
  t <- trend_of(measure, m, per_year)
  level <- if (measure == "quantile") 0 else 1
  add("trend", "all", "", t[1], level, t[1], t[2], unknown = of_all, limits = t[3:4], worst = {
    up <- isTRUE(t[1] > level)
    worst_series(measure, cells, up, late, function(cells, m) { now <- trend_of(measure, m, per_year); if (goes(up, level, now[1])) now[2] else 1 })
  })
  for (pair in list(list(quarters, 1), list(quarters, 4), list(years, 1))) {
    long <- pair[[1]]; back <- pair[[2]]
    ok <- which(long$from <= span[2] & long$to >= span[1] &
                vapply(seq_len(nrow(long)), function(i) whole(month_start(long$from[i]), month_start(long$to[i] + 1)), TRUE))
    now <- max(ok, 0)
    if (now <= back) next
    two <- cells_in(long[c(now, now - back), ])
    if (!two[[1]]$whole || !two[[2]]$whole) next
    step <- if (long$kind[1] == "year") function(now, then, ...) year_step(measure, now, then, spread_of(measure, m, cells), ...) else
      function(now, then, ...) step_of(measure, now, then, max(1, m$sigma^2, na.rm = TRUE), ...)
    s <- step(two[[1]], two[[2]])
    add("change", long$name[now], long$name[now - back], s[1], s[2], s[3], s[4], unknown = two[[1]]$u + two[[2]]$u, limits = s[6:7],
        worst = worst_step(measure, cells, two[[1]], two[[2]], isTRUE(s[5] > 0), step))
  }
  do.call(rbind, out)
}

# Measures of waiting that the catalogue breaks down by urgency.
waits <- function(indicator) "urgency" %in% strsplit(indicator$by, "|", fixed = TRUE)[[1]] &&
  (indicator$measure == "quantile" || (indicator$measure == "share" && grepl("departed_in_time", indicator$events)))

changes_expected <- function(options) {
  want <- expected(options)
  settings <- settings_read(options$network)
  records <- want$records
  if (!nrow(records)) return(NULL)
  LOW <<- min(records$day); HIGH <<- max(records$day)
  ALPHA <<- 1 - as.numeric(options$confidence)
  span <- if (is.null(options$period)) range(month_of(records$day)) else period_months(options$period, settings$year_starts)
  periods <- periods_of(records$day, settings$year_starts, if (is.null(options$period)) NULL else span)
  months <- periods[periods$kind == "month", ]; quarters <- periods[periods$kind == "quarter", ]; years <- periods[periods$kind == "year", ]
  within <- function(p) p[p$from <= span[2] & p$to >= span[1], ]
  catalogue <- catalogue_read(options$catalogue, options$network)
  senders <- sort(unique(records$sending_unit), method = "radix")
  whole <- coverage_of_all(records, senders)
  rows <- list()
  for (k in seq_len(nrow(catalogue))) {
    indicator <- catalogue[k, ]
    measure <- indicator$measure
    if (!measure %in% c("share", "rate", "quantile", "count") || (measure == "rate" && grepl("week", indicator$per))) next
    got <- collect(indicator, records, settings$caps)
    if (measure == "rate") got$exposure <- got$exposure / as.numeric(sub(" .*$", "", indicator$per))
    network <- function(group, of) {
      found <- series_rows("all", indicator, group, measure, got, got$counted & of, got$unknown & of, records, months, quarters, years, whole[[1]], span, 12)
      trend <- which(found$kind == "trend")
      if (measure == "count" && length(trend))
        found[trend, c("steady_units", "steady_estimate", "steady_p")] <- as.list(steady_of(records, senders, got$counted, within(months)))
      rows[[length(rows) + 1]] <<- found
    }
    network("all", TRUE)
    if (waits(indicator)) for (code in intersect(codes_of("urgency", records$urgency), records$urgency))
      network(paste0("urgency=", code), !is.na(records$urgency) & records$urgency == code)
    if (indicator$compare == "" && measure != "count") next
    named <- if (indicator$compare == "") TRUE else condition_holds(records, indicator$compare)
    judged <- got$counted & !is.na(named) & named
    doubtful <- (got$counted | got$unknown) & (is.na(named) | named) & !judged
    for (u in seq_along(senders))
      rows[[length(rows) + 1]] <- series_rows(senders[u], indicator, "all", measure, got, judged & records$sending_unit == senders[u],
                                              doubtful & records$sending_unit == senders[u], records,
                                              quarters, quarters, years, whole[[u + 1]], span, 4)
  }
  out <- do.call(rbind, rows)
  if (!is.null(out)) {
    out$q <- p.adjust(out$p, "BH")
    stays <- vapply(seq_len(nrow(out)), function(i) out$q[i] <= 0.05 && still_signal(out$p, i, out$worst_p[i]), NA)
    out$robust <- ifelse(out$q > 0.05, "", ifelse(stays, "robust", sprintf("rests on %d unknown record%s", out$unknown, ifelse(out$unknown == 1, "", "s"))))
  }
  covers <- function(u, p) if (nrow(p)) data.frame(unit = c("all", senders)[u], period = p$name, whole = vapply(seq_len(nrow(p)), function(i)
    if (whole[[u]](month_start(p$from[i]), month_start(p$to[i] + 1))) "yes" else "no", ""))
  list(tests = out, covered = do.call(rbind, c(list(covers(1, within(months))), lapply(seq_along(senders) + 1, covers, p = within(quarters)))))
}

# series.csv: which periods the logs cover whole.
check_covered <- function(path, want) {
  got <- read.csv(path, colClasses = "character")
  got <- unique(got[got$chart %in% c("p", "u", "xmr"), c("unit", "period", "whole")])
  said <- function(d) sort(paste(d$unit, d$period, d$whole))
  check(identical(said(got), said(want)), "covered whole, found: ", paste(head(setdiff(said(got), said(want)), 4), collapse = "; "), ", expected: ",
        paste(head(setdiff(said(want), said(got)), 4), collapse = "; "))
}

# The months without the log of one unit that were planted: neither its quarter nor the network's months count as whole.
check_silent <- function(path, series) {
  truth <- paste(readLines(path, warn = FALSE), collapse = " ")
  part <- sub("^.*\"no_log\": *[{]([^}]*)[}].*$", "\\1", truth)
  unit <- sub("^.*\"unit\": *\"([^\"]*)\".*$", "\\1", part)
  months <- regmatches(part, gregexpr("[0-9]{4}-[0-9]{2}", part))[[1]]
  got <- read.csv(series, colClasses = "character")
  quarters <- unique(sprintf("%s-Q%d", substr(months, 1, 4), (as.integer(substr(months, 6, 7)) + 2) %/% 3))
  check(length(months) > 0 && all(got$whole[got$unit == "all" & got$period %in% months] == "no"), "a month without a log counts as whole")
  check(setequal(got$period[got$unit == unit & got$whole == "no"], quarters), unit, " lacks ", paste(quarters, collapse = " "))
}

# That time-critical patients leave sooner was planted: the audit says so, and does not say the contrary.
check_sooner <- function(path) {
  got <- read.csv(path, colClasses = "character")
  got <- got[got$scope == "network" & got$indicator == "time_to_departure" & got$group == "urgency=time-critical", ]
  check(nrow(got) > 0 && all(got$direction == "better"), "the planted improvement is not in signals.csv")
}

# ---- Comparison: 1e-9, trends 1e-6, p and q on the log scale ---------------------------------------------------------------

main_changes <- function() {
  options <- options_read(commandArgs(trailingOnly = TRUE))
  found <- changes_expected(options)
  want <- found$tests
  got <- read.csv(file.path(options$pack, "changes.csv"), colClasses = "character", na.strings = character())
  key <- function(d) paste(d$unit, d$indicator, d$group, d$kind, d$against)
  if (is.null(want)) check(nrow(got) == 0, "tests where none are expected")
  else {
    same <- identical(key(got), key(want))
    check(same, "the tests are not those expected: ", paste(head(c(setdiff(key(got), key(want)), "|", setdiff(key(want), key(got))), 8), collapse = "; "))
    want <- want[match(key(got), key(want)), ]
    for (name in c("period", "estimate", "reference", "effect", "p", "q", "worst_p", "robust", "steady_units", "steady_estimate", "steady_p", "lower", "upper")) {
      w <- want[[name]]; g <- got[[name]]
      if (name == "robust") good <- w == g
      else if (name == "period") good <- w == g | (want$kind == "point" & want$p > 0.5) # of equal points any may be named
      else {
        x <- suppressWarnings(as.numeric(g))
        near <- if (name %in% c("p", "q", "worst_p", "steady_p")) abs(log(x) - log(w)) <= 1e-6 * (1 + abs(log(w))) else
          abs(x - w) <= pmax(ifelse(want$kind == "trend", 1e-6, 1e-9) * abs(w), 1e-12)
        good <- ifelse(is.na(w) | is.infinite(w), g == "", !is.na(x) & near)
        if (name %in% c("estimate", "reference")) good <- good | (want$kind == "point" & want$p > 0.5)
      }
      if (name %in% c("lower", "upper")) good[is.na(w)] <- TRUE # of these only those of slopes and of shifts within urgency are worked out here
      good[is.na(good)] <- FALSE
      check(good, sum(!good), " of ", name, " differ: ", paste(head(sprintf("%s expected %s, found %s", key(want)[!good], format(w[!good], digits = 12), g[!good]), 4), collapse = "; "))
    }
  }
  if (!is.null(found$covered)) check_covered(file.path(options$pack, "series.csv"), found$covered)
  if (!is.null(options$truth)) {
    check_silent(options$truth, file.path(options$pack, "series.csv"))
    check_sooner(file.path(options$pack, "signals.csv"))
  }
  cat(tests$passed, " passed, ", tests$failed, " failed\n", sep = "")
  if (tests$failed > 0) quit(status = 1)
}
main_changes()
