#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
# The oracle of comparisons.csv: units against their network worked out afresh from canonical logs, from the written
# definitions (src/stats/funnel.h, commands.md), in base R; logistic models by glm, and by Firth's penalty written out here.
#
#   Rscript tests/oracle/comparisons.R [--network DIR] [--period P] [--confidence C] [--truth FILE] --pack DIR LOG...
#
# Ends with `N passed, N failed`: one test for each row and column.

ORACLE_PART <- TRUE
here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE)[1]))
source(file.path(here, "summary.R"))
source(file.path(here, "ranks.R"))
options(warn = -1)

# ---- What units are judged by ----------------------------------------------------------------------------------------------

judged_rows <- function(catalogue) {
  calendar <- catalogue$measure == "rate" & grepl("week", catalogue$per)
  which(catalogue$compare != "" & catalogue$measure %in% c("share", "rate", "quantile") & !calendar)
}

judged <- function(indicator, records, caps) {
  got <- collect(indicator, records, caps)
  named <- condition_holds(records, indicator$compare)
  counts <- got$counted & !is.na(named) & named
  part <- (got$counted | got$unknown) & (is.na(named) | named)
  list(value = got$value, exposure = got$exposure, counted = counts, unknown = part & !counts)
}

# ---- The spread between units (funnel.h, steps 1 to 3) ---------------------------------------------------------------------

paule_mandel <- function(y, v, target) {
  squares <- function(t) { w <- 1 / (v + t); m <- sum(w * y) / sum(w); sum(w * (y - m)^2) - target }
  if (squares(0) <= 0) 0 else {
    high <- max(v); while (squares(high) > 0) high <- 2 * high
    uniroot(squares, c(0, high), tol = high * 1e-16, maxiter = 10000)$root
  }
}
centre_at <- function(y, v, t) sum(y / (v + t)) / sum(1 / (v + t))
shrunk_square <- function(a) if (a >= 1) 1 else { q <- qnorm((1 + a) / 2); 1 - 2 * q * dnorm(q) / a }

own_spread <- function(y, v) {
  m <- length(y)
  if (m < 2) return(c(NA, m - 1))
  at <- order(y, v); y <- y[at]; v <- v[at]
  w <- 1 / v
  mean <- y[which(cumsum(w) >= sum(w) / 2)[1]]
  h <- max(2, ceiling(0.8 * m)); tau2 <- 0
  sorted <- function() order(abs(y - mean) / sqrt(v + tau2), y, v)
  estimate <- function(h) {
    take <- sorted()[seq_len(h)]
    tau2 <<- paule_mandel(y[take], v[take], (h - 1) * shrunk_square(h / m))
    mean <<- centre_at(y[take], v[take], tau2)
  }
  for (i in 1:20) {
    before <- c(tau2, mean)
    estimate(h)
    if (abs(tau2 - before[1]) <= 1e-9 * tau2 && abs(mean - before[2]) <= 1e-9 * abs(mean)) break
  }
  while (h < m) {
    next_one <- sorted()[h + 1]
    if (abs(y[next_one] - mean) / sqrt(v[next_one] + tau2) > qnorm(1 - 0.001 / 2)) break
    h <- h + 1
    estimate(h)
  }
  c(tau2, h - 1)
}

moderated <- function(own, freedom, typical, record) {
  if (freedom < 0) return(NA)
  usual <- if (is.na(typical)) own else typical * record
  known <- if (freedom > 0) freedom * own else 0
  (1 + 6 / (freedom + 10)) * (known + 10 * usual) / (freedom + 10)
}

# ---- Exact distributions ---------------------------------------------------------------------------------------------------

TAILS <- c(0.001, 0.025, 0.975, 0.999)
interpolated <- function(point, cumulative, tail, size) {
  r <- which(cumulative >= tail)[1]
  max(0, (r - 1 - (cumulative[r] - tail) / point[r]) / size)
}
sum_of <- function(risk) {
  d <- 1
  for (t in risk) d <- c(d * (1 - t), 0) + c(0, d * t)
  d
}
double_tail <- function(d, x) min(1, 2 * min(sum(d[seq_len(x + 1)]), sum(d[(x + 1):length(d)])))

# ---- Case-mix --------------------------------------------------------------------------------------------------------------

ADJUSTED <- c("adverse_event_share", "harm_share", "departed_in_time_share")
BASE <- c("age_band", "sex", "care_level", "ventilated", "vasoactive", "urgency", "condition")
REDUCED <- c("age_band", "care_level", "ventilated", "urgency")

JOURNEYS <- c("under-30", "30-59", "60-119", "120-or-more")

firth_coefficients <- function(x, y) {
  b <- rep(0, ncol(x))
  penalised <- function(b) {
    p <- plogis(as.vector(x %*% b))
    sum(ifelse(y == 1, log(p), log1p(-p))) + determinant(crossprod(x, p * (1 - p) * x))$modulus / 2
  }
  for (i in 1:500) {
    p <- plogis(as.vector(x %*% b)); w <- p * (1 - p)
    inverse <- solve(crossprod(x, w * x))
    hat <- rowSums((x %*% inverse) * x) * w
    step <- as.vector(inverse %*% crossprod(x, y - p + hat * (0.5 - p)))
    while (max(abs(step)) > 1e-8 && !isTRUE(penalised(b + step) >= penalised(b))) step <- step / 2
    b <- b + step
    if (max(abs(step)) < 1e-11) break
  }
  b
}
firth <- function(x, y) {
  p <- as.vector(x %*% firth_coefficients(x, y))
  shift <- uniroot(function(s) sum(plogis(p + s)) - sum(y), c(-5, 5), tol = 1e-14)$root
  plogis(p + shift)
}

# The factors of the counted records, and how many events there are a parameter.
case_mix_frame <- function(name, records, y, caps) {
  journey <- interval(records, "departed_at..arrived_at", caps)
  records$journey_class <- as.character(cut(as.numeric(journey), c(-1, 29, 59, 119, Inf), labels = JOURNEYS))
  factors <- c(BASE, if (name == "departed_in_time_share") "requested_hour" else c("journey_class", "out_of_hours"))
  frame_of <- function(names) {
    d <- data.frame(lapply(records[names], function(v) { v <- as.character(v); v[is.na(v)] <- "unknown"; factor(v) }))
    d[vapply(d, nlevels, 1L) > 1]
  }
  parameters <- function(d) sum(vapply(d, nlevels, 1L) - 1)
  each <- function(d) min(sum(y), sum(1 - y)) / max(1, parameters(d))
  d <- frame_of(factors)
  reduced <- each(d) < 10
  if (reduced) d <- frame_of(REDUCED)
  list(frame = d, names = if (reduced) REDUCED else factors, reduced = reduced, refused = each(d) < 5, parameters = parameters(d),
       journey_class = records$journey_class)
}

separated <- function(fit) any(fit$fitted.values < 1e-7 | fit$fitted.values > 1 - 1e-7)

# Fitted risks of the counted records, or NULL where the model is refused.
case_mix <- function(name, records, y, caps) {
  model <- case_mix_frame(name, records, y, caps)
  if (model$refused) return(NULL)
  x <- model.matrix(~ ., model$frame)
  kept <- qr(x); x <- x[, kept$pivot[seq_len(kept$rank)], drop = FALSE]
  fit <- glm.fit(x, y, family = binomial(), control = glm.control(epsilon = 1e-14, maxit = 100))
  # separated: a risk runs to 0 or 1
  if (separated(fit)) firth(x, y) else fit$fitted.values
}

# ---- Shrinkage: the score equations solved by Newton's method --------------------------------------------------------------

newton <- function(score, start) {
  for (i in 1:200) {
    step <- solve(score(start)$hessian, -score(start)$gradient)
    while (any(start + step <= 0)) step <- step / 2
    start <- start + step
    if (max(abs(step / start)) < 1e-13) break
  }
  start
}
# The best size of a spread: at each size the best mean, sizes from a grid, then between its neighbours.
best_size <- function(value) {
  at <- function(size) optimize(function(m) value(exp(size), plogis(m)), c(-12, 12), maximum = TRUE, tol = 1e-10)
  grid <- seq(log(1e-3), log(1e8), 0.5)
  heights <- vapply(grid, function(s) at(s)$objective, 0)
  top <- which.max(heights)
  if (top == length(grid)) return(NULL)
  size <- optimize(function(s) at(s)$objective, grid[c(max(1, top - 1), top + 1)], maximum = TRUE, tol = 1e-8)
  list(value = size$objective, size = exp(size$maximum), mean = plogis(at(size$maximum)$maximum))
}
rising <- function(a, x) vapply(x, function(x) sum(log(a + seq_len(x) - 1)), 0)
beta_prior <- function(x, n) {
  m <- sum(x) / sum(n)
  best <- best_size(function(s, m) sum(rising(s * m, x) + rising(s * (1 - m), n - x) - rising(s, n)))
  alike <- sum(x * log(m) + (n - x) * log1p(-m))
  if (is.null(best) || best$value < alike + 1e-8) return(list(pooled = TRUE, mean = m))
  best$par <- log(best$size * c(best$mean, 1 - best$mean))
  s <- newton(function(t) {
    a <- t[1]; b <- t[2]; k <- length(x)
    list(gradient = c(sum(digamma(a + x) - digamma(a + b + n)) + k * (digamma(a + b) - digamma(a)),
                      sum(digamma(b + n - x) - digamma(a + b + n)) + k * (digamma(a + b) - digamma(b))),
         hessian = matrix(c(sum(trigamma(a + x) - trigamma(a + b + n)) + k * (trigamma(a + b) - trigamma(a)),
                            rep(k * trigamma(a + b) - sum(trigamma(a + b + n)), 2),
                            sum(trigamma(b + n - x) - trigamma(a + b + n)) + k * (trigamma(a + b) - trigamma(b))), 2))
  }, exp(best$par))
  list(pooled = FALSE, a = s[1], b = s[2])
}
gamma_prior <- function(x, t) {
  m <- sum(x) / sum(t)
  # the mean between 0 and 10 times the pooled one
  best <- best_size(function(a, u) { e <- 10 * m * u * t; sum(rising(a, x) - x * log(a) + x * log(10 * m * u) - (a + x) * log1p(e / a)) })
  alike <- sum(x * log(m)) - m * sum(t)
  if (is.null(best) || best$value < alike + 1e-8) return(list(pooled = TRUE, mean = m))
  best$par <- log(c(best$size, best$size / (10 * m * best$mean)))
  s <- newton(function(s) {
    a <- s[1]; b <- s[2]; k <- length(x)
    list(gradient = c(sum(digamma(a + x) - log(b + t)) + k * (log(b) - digamma(a)), k * a / b - sum((a + x) / (b + t))),
         hessian = matrix(c(sum(trigamma(a + x)) - k * trigamma(a), rep(k / b - sum(1 / (b + t)), 2),
                            sum((a + x) / (b + t)^2) - k * a / b^2), 2))
  }, exp(best$par))
  list(pooled = FALSE, a = s[1], b = s[2])
}
shrunken <- function(prior, x, n, beta) {
  if (prior$pooled) return(rbind(rep(prior$mean, length(x)), 0))
  whole <- if (beta) prior$a + prior$b + n else prior$b + n
  rbind((prior$a + x) / whole, n / whole)
}

# ---- Rows ------------------------------------------------------------------------------------------------------------------

garwood_ratio <- function(x, e, a) c(if (x == 0) 0 else qgamma(a / 2, x), qgamma(1 - a / 2, x + 1)) / e
ranks <- function(limits) {
  known <- !is.na(limits[1, ]) & !is.na(limits[2, ])
  vapply(seq_along(known), function(i) if (!known[i]) c(NA, NA) else
    c(1 + sum(limits[1, known] > limits[2, i]), sum(!(limits[2, known] < limits[1, i]))), c(0, 0))
}

# One funnel as a list of vectors over units; what the judging needs is in it too.
funnel_share <- function(x, n, unknown, a) {
  centre <- sum(x) / sum(n)
  exact <- function(t) vapply(seq_along(n), function(i) if (n[i] == 0) NA else
    interpolated(dbinom(0:n[i], n[i], centre), pbinom(0:n[i], n[i], centre), t, n[i]), 0)
  list(kind = "crude", measure = "share", effect = NA * n, x = x, n = n, unknown = unknown, expected = n * centre, value = x / n, centre = centre,
       variance = centre * (1 - centre) / n, record = centre * (1 - centre), top = 1, limits = matrix(vapply(TAILS, exact, n), ncol = 4),
       exact = ifelse(n == 0, NA, pmin(1, 2 * pmin(pbinom(x, n, centre), pbinom(x - 1, n, centre, lower.tail = FALSE)))),
       shrink = shrunken(if (sum(x) %in% c(0, sum(n))) list(pooled = TRUE, mean = centre) else beta_prior(x[n > 0], n[n > 0]), x, n, TRUE),
       interval = function(b) vapply(seq_along(n), function(i) wilson(x[i], n[i], b)[2:3], c(0, 0)),
       # exact (Clopper and Pearson 1934): Wilson's miss far more often than they say at the confidence of many at once
       together = function(b) rbind(ifelse(n == 0, NA, ifelse(x == 0, 0, qbeta(b / 2, x, n - x + 1))), ifelse(n == 0, NA, ifelse(x == n, 1, qbeta(1 - b / 2, x + 1, n - x)))))
}

funnel_adjusted <- function(x, n, unknown, risks, crude) {
  e <- vapply(risks, sum, 0); v <- vapply(risks, function(p) sum(p * (1 - p)), 0)
  d <- lapply(risks, sum_of)
  exact <- function(t) vapply(seq_along(n), function(i) if (n[i] == 0) NA else interpolated(d[[i]], cumsum(d[[i]]), t, e[i]), 0)
  list(kind = "adjusted", measure = "share", effect = NA * n, x = x, n = n, unknown = unknown, expected = e, value = ifelse(n > 0, x / e, NA), centre = 1,
       variance = v / e^2, record = sum(v) * sum(n) / sum(e)^2, top = Inf, limits = matrix(vapply(TAILS, exact, n), ncol = 4),
       exact = vapply(seq_along(n), function(i) if (n[i] == 0) NA else double_tail(d[[i]], x[i]), 0), v = v,
       shrink = shrunken(gamma_prior(x[n > 0], e[n > 0]), x, e, FALSE),
       interval = function(b) vapply(seq_along(n), function(i) if (n[i] > 0) garwood_ratio(x[i], e[i], b) else c(NA, NA), c(0, 0)))
}

# minutes, units and strata of the durations judged; those of the unknown ones
funnel_median <- function(minutes, unit, stratum, unknown_unit, unknown_stratum, senders, a) {
  lists <- lapply(senders, function(u) minutes[unit == u])
  strata <- sort(unique(c(stratum, unknown_stratum)))
  n <- lengths(lists)
  test <- function(i, side = 0) {
    own <- unit == senders[i]; own_unknown <- unknown_unit == senders[i]
    with_worst <- function(s, mine) {
      extra <- if (side == 0) 0 else sum(own_unknown == mine & unknown_stratum == s)
      c(minutes[own == mine & stratum == s], rep(if ((side > 0) == mine) -1 else 1e12, extra))
    }
    van_elteren(lapply(strata, with_worst, TRUE), lapply(strata, with_worst, FALSE))
  }
  got <- vapply(seq_along(n), test, c(0, 0, 0, 0))
  limits <- function(b) vapply(lists, function(v) order_statistics(v, 50, b)[2:3], c(0, 0))
  alike <- if (sum(n > 0) > 1 && length(unique(minutes)) > 1) kruskal.test(unlist(lists), rep(seq_along(n), n)) else NULL
  shift <- function(i) shift_within(by_strata(minutes[unit == senders[i]], stratum[unit == senders[i]], strata),
                                    by_strata(minutes[unit != senders[i]], stratum[unit != senders[i]], strata), a)
  shifts <- vapply(seq_along(n), shift, c(0, 0, 0))
  unknown <- vapply(senders, function(u) sum(unknown_unit == u), 0)
  list(kind = "crude", measure = "quantile", effect = shifts[1, ], effect_limits = shifts[2:3, , drop = FALSE], x = NA * n, n = n, unknown = unknown, expected = NA * n,
       value = vapply(lists, function(v) order_statistics(v, 50, 0.05)[1], 0), centre = order_statistics(minutes, 50, 0.05)[1],
       rank = got[3, ], variance = got[4, ], record = sum(table(stratum) + 1) / 12 / sum(n), exact = got[1, ], side = got[2, ], shrink = rbind(NA * n, NA * n),
       limits = matrix(NA, length(n), 4), interval = limits, test = test,
       kruskal = if (is.null(alike)) NULL else c(alike$statistic, alike$parameter, alike$p.value))
}

funnels_of <- function(indicator, records, senders, context) {
  j <- judged(indicator, records, context$caps)
  units <- lapply(senders, function(u) records$sending_unit == u & j$counted)
  unknown <- vapply(senders, function(u) sum(records$sending_unit == u & j$unknown), 0)
  if (indicator$measure == "quantile") { # within urgency, unknown urgency being a stratum of its own
    urgency <- as.character(records$urgency); urgency[is.na(urgency)] <- "unknown"
    at <- j$counted; open <- j$unknown
    return(list(funnel_median(j$value[at], records$sending_unit[at], urgency[at], records$sending_unit[open], urgency[open], senders, context$a)))
  }
  if (indicator$measure == "rate") stop("no built-in indicator is a judged rate")
  x <- vapply(units, function(at) sum(j$value[at]), 0); n <- vapply(units, sum, 0)
  if (sum(n) == 0) return(list())
  out <- list(funnel_share(x, n, unknown, context$a))
  if (indicator$indicator %in% ADJUSTED) {
    risk <- rep(NA_real_, nrow(records))
    fitted <- case_mix(indicator$indicator, records[j$counted, ], j$value[j$counted], context$caps)
    if (!is.null(fitted)) {
      risk[j$counted] <- fitted
      out[[2]] <- funnel_adjusted(x, n, unknown, lapply(units, function(at) risk[at]), out[[1]])
    }
  }
  out
}

judge <- function(f, typical) {
  some <- f$n > 0
  f$phi <- f$tau2 <- f$p <- NA * f$n
  if (sum(some) < 2) { # one unit is its own network: nothing to hold it against
    f$limits[] <- NA
    f$shrink[] <- NA
    f$effect <- NA * f$n
    return(f)
  }
  if (f$measure == "quantile") { # the spread of mean ranks
    f$rank_tau2 <- vapply(seq_along(f$n), function(i) {
      at <- setdiff(which(f$variance > 0), i)
      own <- own_spread(f$rank[at], f$variance[at])
      moderated(own[1], own[2], typical, f$record)
    }, 0)
    f$p <- ifelse(is.na(f$rank_tau2), f$exact, pmax(f$exact, 2 * pnorm(-abs(f$rank - 0.5) / sqrt(f$variance + f$rank_tau2))))
    return(f)
  }
  f$side <- sign(f$value - f$centre)
  f$phi[some] <- mean((f$value - f$centre)[some]^2 / f$variance[some])
  able <- some & f$variance > 0
  f$tau2[some] <- vapply(which(some), function(i) {
    at <- setdiff(which(able), i)
    own <- own_spread(f$value[at], f$variance[at])
    moderated(own[1], own[2], typical, f$record)
  }, 0)
  f$wide <- ifelse(is.na(f$tau2), 0, f$tau2) + f$variance
  z <- abs(f$value - f$centre) / sqrt(f$wide)
  f$p <- ifelse(!is.na(f$tau2) & f$wide > 0, pmax(f$exact, 2 * pnorm(-z)), f$exact)
  for (k in 1:4) {
    half <- f$centre + qnorm(c(0.001, 0.025, 0.975, 0.999)[k]) * sqrt(f$wide)
    wider <- if (k < 3) pmax(0, pmin(f$limits[, k], half)) else pmin(f$top, pmax(f$limits[, k], half))
    f$limits[, k] <- ifelse(is.na(f$tau2) | !(f$variance > 0), f$limits[, k], wider)
  }
  f
}

# p in the worst case for what is unknown (worstcase.h).
worst_p <- function(f, i) {
  up <- f$side[i] > 0
  own <- f$unknown[i]; others <- sum(f$unknown) - own
  if (f$measure == "quantile") {
    got <- f$test(i, f$side[i])
    if (got[2] != f$side[i]) return(1)
    return(max(got[1], 2 * pnorm(-abs(got[3] - 0.5) / sqrt(got[4] + f$rank_tau2[i])), na.rm = TRUE))
  }
  x <- f$x[i] + if (up) 0 else own
  n <- f$n[i] + own
  pooled <- (sum(f$x) + (if (up) 0 else own) + (if (up) others else 0)) / (sum(f$n) + own + others)
  if (f$kind == "crude") { centre <- pooled; value <- x / n; variance <- centre * (1 - centre) / n; low <- min(1, 2 * min(pbinom(x, n, centre), pbinom(x - 1, n, centre, lower.tail = FALSE))) }
  else {
    e <- f$expected[i] * n / f$n[i] * pooled / (sum(f$x) / sum(f$n))
    mean <- f$expected[i] / f$n[i]
    variance <- e * (1 - e / n) * f$v[i] / (f$n[i] * mean * (1 - mean)) / e^2
    centre <- 1; value <- x / e; low <- 0
  }
  if (sign(value - centre) != f$side[i]) return(1)
  max(low, 2 * pnorm(-abs(value - centre) / sqrt(variance + f$tau2[i])))
}

expected_rows <- function(options) {
  want <- expected(options)
  settings <- settings_read(options$network)
  records <- want$records
  a <- 1 - as.numeric(options$confidence)
  context <- list(caps = settings$caps, a = a)
  senders <- sort(unique(records$sending_unit), method = "radix")
  if (!is.null(options$period)) {
    span <- period_months(options$period, settings$year_starts)
    records <- records[month_of(records$day) >= span[1], ]
  }
  catalogue <- catalogue_read(options$catalogue, options$network)
  all <- list()
  if (!length(senders)) return(NULL)
  for (k in judged_rows(catalogue)) for (f in funnels_of(catalogue[k, ], records, senders, context)) {
    f$indicator <- catalogue$indicator[k]
    all[[length(all) + 1]] <- f
  }
  relative <- vapply(all, function(f) {
    able <- which(f$n > 0 & f$variance > 0)
    if (f$measure == "share") own_spread(f$value[able], f$variance[able])[1] / f$record else NA
  }, 0)
  typical <- if (all(is.na(relative))) NA else median(relative, na.rm = TRUE)
  all <- lapply(all, judge, typical)
  p <- unlist(lapply(all, `[[`, "p"))
  q <- p.adjust(p, "BH")
  at <- 0
  do.call(rbind, lapply(all, function(f) {
    before <- at
    own <- q[at + seq_along(f$n)]; at <<- at + length(f$n)
    robust <- vapply(seq_along(f$n), function(i) if (is.na(own[i]) || own[i] > 0.05) "" else if (still_signal(p, before + i, worst_p(f, i))) "robust" else
      sprintf("rests on %d unknown record%s", sum(f$unknown), if (sum(f$unknown) == 1) "" else "s"), "")
    kruskal <- if (is.null(f$kruskal)) rep(NA_real_, 3) else f$kruskal
    rank <- ranks((if (is.null(f$together)) f$interval else f$together)(1 - (1 - a)^(1 / sum(f$n > 0))))
    data.frame(indicator = f$indicator, kind = f$kind, unit = senders, period = "all", events = f$x, total = f$n, expected = f$expected,
               value = f$value, centre = f$centre, low_95 = f$limits[, 2], high_95 = f$limits[, 3], low_998 = f$limits[, 1],
               high_998 = f$limits[, 4], p = f$p, q = own, phi = f$phi, tau2 = f$tau2, robust = robust, shrunk = f$shrink[1, ],
               own_weight = f$shrink[2, ], rank_low = rank[1, ], rank_high = rank[2, ], lower = f$interval(a)[1, ], upper = f$interval(a)[2, ], effect = f$effect,
               effect_low = if (is.null(f$effect_limits)) NA else f$effect_limits[1, ], effect_high = if (is.null(f$effect_limits)) NA else f$effect_limits[2, ],
               unknown = f$unknown, kruskal_h = kruskal[1], kruskal_df = kruskal[2], kruskal_p = kruskal[3], stringsAsFactors = FALSE)
  }))
}

# ---- Comparison: 1e-9, 1e-6 where a fitted model or the spread between units goes in, p and q on the log scale -------------

LOOSE <- c("low_95", "high_95", "low_998", "high_998", "tau2", "shrunk", "own_weight")
compare_column <- function(want, got, name) {
  w <- want[[name]]; g <- got[[name]]
  if (is.character(w)) return(w == g)
  text <- g; g <- suppressWarnings(as.numeric(g))
  if (name %in% c("p", "q")) near <- abs(log(pmax(g, 1e-300)) - log(pmax(w, 1e-300))) <= 1e-6 * (1 + abs(log(pmax(w, 1e-300))))
  else {
    tolerance <- ifelse(name %in% LOOSE | want$kind == "adjusted", 1e-6, 1e-9)
    near <- abs(g - w) <= pmax(tolerance * abs(w), 1e-9 * (tolerance == 1e-6), 1e-12)
  }
  ifelse(is.na(w) | is.nan(w), text == "", !is.na(g) & near)
}

# The odds ratio that the invented network was given lies within the limits that the model finds.
check_truth <- function(path, casemix) {
  planted <- as.numeric(sub("^.*\"odds_ratio_if_ventilated\": *([0-9.]+).*$", "\\1", paste(readLines(path, warn = FALSE), collapse = " ")))
  model <- read.csv(casemix)
  row <- model[model$indicator == "adverse_event_share" & model$factor == "ventilated" & model$level == "no", ]
  check(nrow(row) == 1 && row$lower <= 1 / planted && row$upper >= 1 / planted,
        "the planted odds ratio ", planted, " is not within ", format(1 / row$upper), " to ", format(1 / row$lower))
}

main_comparisons <- function() {
  options <- options_read(commandArgs(trailingOnly = TRUE))
  want <- expected_rows(options)
  got <- read.csv(file.path(options$pack, "comparisons.csv"), colClasses = "character", na.strings = character())
  check(identical(setdiff(names(got), c("effect_low", "effect_high")), COMPARED), "comparisons.csv has columns ", paste(names(got), collapse = ","))
  key <- function(d) paste(d$indicator, d$kind, d$unit)
  if (is.null(want)) check(nrow(got) == sum(got$total == "0") || nrow(got) == 0, "rows where none are expected")
  else {
    known <- got$total != "0" | key(got) %in% key(want)
    got <- got[known, ]
    check(identical(key(got), key(want)), "the rows are not those expected: ", paste(head(c(setdiff(key(got), key(want)), setdiff(key(want), key(got)))), collapse = "; "))
    if (identical(key(got), key(want))) for (name in c(COMPARED, "effect_low", "effect_high")) {
      same <- compare_column(want, got, name)
      if (!name %in% COMPARED) same <- same | is.na(want[[name]]) # limits within one stratum are not worked out here
      check(same, name, " differs: ", paste(head(sprintf("%s expected %s, found %s", key(want)[!same], format(want[[name]][!same], digits = 12), got[[name]][!same]), 4), collapse = "; "))
    }
  }
  if (!is.null(options$truth)) check_truth(options$truth, file.path(options$pack, "casemix.csv"))
  cat(tests$passed, " passed, ", tests$failed, " failed\n", sep = "")
  if (tests$failed > 0) quit(status = 1)
}
COMPARED <- c("indicator", "kind", "unit", "period", "events", "total", "expected", "value", "centre", "low_95", "high_95", "low_998",
              "high_998", "p", "q", "phi", "tau2", "robust", "shrunk", "own_weight", "rank_low", "rank_high", "lower", "upper", "effect", "unknown",
              "kruskal_h", "kruskal_df", "kruskal_p")
if (!exists("ORACLE_MODELS")) main_comparisons() # models.R takes the functions alone
