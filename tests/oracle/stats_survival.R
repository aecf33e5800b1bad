# SPDX-License-Identifier: GPL-3.0-or-later
# Censored times against R's survival: curves, limits, quantiles, restricted means, tests, competing ends.
# Sourced by stats.R, whose helpers it uses.
suppressMessages(library(survival))

# times with ties (every other case) or without, some censored, some at 0
censored <- function(i, n) {
    t <- if (i %% 2) rexp(n) * 50 else rpois(n, rexp(1) * 20)
    list(t = t, e = as.integer(runif(n) < sample(c(1, 0.8, 0.5, 0.2), 1)))
}
limits <- c("log-log", "log", "plain")
for (i in seq_len(cases)) {
    d <- censored(i, sample(1:60, 1)); conf <- sample(c(0.8, 0.95, 0.99), 1)
    f <- lapply(limits, function(l) survfit(Surv(d$t, d$e) ~ 1, conf.type = l, conf.int = conf))
    # before the first time R makes up limits of 1 to 1
    at <- sample(c(d$t, runif(1, min(d$t), max(d$t))), 1)
    s <- lapply(f, summary, times = at, extend = TRUE)
    say_lists("survival", list(d$t, d$e, at, conf), c(s[[1]]$surv, if (s[[1]]$surv > 0) s[[1]]$std.err else NA, s[[1]]$cumhaz,
        sapply(s, `[[`, "lower"), sapply(s, `[[`, "upper")))
    p <- sample(c(0.25, 0.5, 0.75, 0.9), 1)
    q <- sapply(f, function(f) unlist(quantile(f, p)))
    # the first limits of all may rise again, and R's quantile() then takes a later crossing; its print() the first
    if (all(sapply(f, function(f) all(diff(na.omit(c(1, f$lower))) <= 0) && all(diff(na.omit(f$upper)) <= 0)))) say_lists("survival_quantile", list(d$t, d$e, p, conf), as.vector(q))
    until <- runif(1) * max(d$t)
    if (sum(d$t <= until) > 0)
        say_lists("survival_mean", list(d$t, d$e, until), summary(f[[1]], rmean = until)$table[5:6])
}

# Gehan's test from the definition, pair by pair and time by time
gehan <- function(t, e, g) {
    less <- outer(seq_along(t), seq_along(t), function(i, j) e[j] == 1 & (t[j] < t[i] | (t[j] == t[i] & e[i] == 0)))
    u <- rowSums(less) - colSums(less); n <- length(t); m <- sum(g == 0)
    z <- sum(u[g == 0]) / sqrt(m * (n - m) / (n * (n - 1)) * sum(u^2))
    o <- v <- 0
    for (s in unique(t[e == 1])) {
        r <- sum(t >= s); k <- sum(t == s & e == 1); r0 <- sum(t >= s & g == 0)
        o <- o + r * (sum(t == s & e == 1 & g == 0) - k * r0 / r)
        if (r > 1) v <- v + r^2 * k * (r0 / r) * (1 - r0 / r) * (r - k) / (r - 1)
    }
    c(o^2 / v, z)
}
for (i in seq_len(cases)) {
    n <- sample(4:80, 1); d <- censored(i, n); k <- sample(2:4, 1); g <- sample(k, n, TRUE); s <- sample(3, n, TRUE)
    if (sum(d$e) == 0) next
    test <- function(f, rho = 0) tryCatch(survdiff(f, rho = rho), error = function(e) NULL)
    # R stops where a group has nobody to be compared with; such cases have no answer of its
    f <- test(Surv(d$t, d$e) ~ g); peto <- test(Surv(d$t, d$e) ~ g, 1); strata <- test(Surv(d$t, d$e) ~ g + strata(s))
    regular <- function(f) !is.null(f) && all(f$exp > 0) && length(f$n) == k && rcond(f$var[-1, -1, drop = FALSE]) > 1e-8
    total <- function(x) if (is.matrix(x)) rowSums(x) else x
    if (regular(f))
        say_lists("logrank", list(d$t, d$e, g - 1, k), c(f$chisq, k - 1, pchisq(f$chisq, k - 1, lower.tail = FALSE), f$var[1, 1], f$obs, f$exp))
    if (regular(peto)) say_lists("logrank_peto", list(d$t, d$e, g - 1, k), c(peto$chisq, peto$obs, peto$exp))
    if (!is.null(strata) && length(strata$n) == k && rcond(strata$var[-1, -1, drop = FALSE]) > 1e-8)
        say_lists("logrank_strata", list(d$t, d$e, g - 1, k, s - 1), c(strata$chisq, total(strata$obs), total(strata$exp)))
    two <- as.integer(g > 1)
    r <- gehan(d$t, d$e, two)
    if (all(is.finite(r))) say_lists("gehan", list(d$t, d$e, two), r)
}

# the delta method's variance, term by term
delta <- function(t, end, at, of) {
    S <- 1; F <- 0; rows <- NULL
    for (s in sort(unique(t[end > 0 & t <= at]))) {
        n <- sum(t >= s); d <- sum(t == s & end > 0); own <- sum(t == s & end == of)
        F <- F + S * own / n
        rows <- rbind(rows, c(n, d, own, S, F)); S <- S * (n - d) / n
    }
    if (is.null(rows)) return(0)
    n <- rows[, 1]; d <- rows[, 2]; own <- rows[, 3]; S <- rows[, 4]; later <- F - rows[, 5]
    sum(ifelse(n > d, later^2 * d / (n * (n - d)), 0) + S^2 * own * (n - own) / n^3 - 2 * later * S * own / n^2)
}
for (i in seq_len(cases)) {
    n <- sample(3:70, 1); d <- censored(i, n); d$t <- d$t + 1 # R takes the start of all for an own time otherwise
    end <- ifelse(d$e == 1, sample(3, n, TRUE), 0)
    if (length(unique(end)) < 4) next
    f <- survfit(Surv(d$t, factor(end, 0:3)) ~ 1)
    at <- sample(d$t, 1); of <- sample(3, 1)
    s <- summary(f, times = at)
    F <- s$pstate[1, of + 1]
    v <- delta(d$t, end, at, of); w <- qnorm(0.975) * sqrt(v) / (F * log(F))
    lim <- if (F > 0 && F < 1 - 1e-12) F^exp(c(-1, 1) * w) else c(NA, NA)
    say_lists("incidence", list(d$t, end, of, at), c(F, s$std.err[1, of + 1]^2, v, lim))
    until <- runif(1, min(d$t), max(d$t))
    say_lists("incidence_mean", list(d$t, end, of, until), c(summary(f, rmean = until)$table[c(1, of + 1), "rmean"]))
}
