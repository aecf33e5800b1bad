# SPDX-License-Identifier: GPL-3.0-or-later
# Random inputs with the answers of R, one line each: `function|arguments|answers`, for stats.c to hold src/stats
# against. Lists are numbers separated by blanks; arguments and answers are separated by commas.
# Rscript tests/oracle/stats.R [CASES] > answers; stats_*.R beside this file add families of their own.
arguments <- commandArgs(FALSE)
here <- dirname(sub("^--file=", "", grep("^--file=", arguments, value = TRUE)[1]))
cases <- commandArgs(TRUE)
cases <- if (length(cases) > 0) as.integer(cases[1]) else 400L
set.seed(20310101, kind = "Mersenne-Twister", normal.kind = "Inversion", sample.kind = "Rejection")
options(warn = -1)

number <- function(x) ifelse(is.na(x), "nan", ifelse(is.infinite(x), ifelse(x > 0, "inf", "-inf"), sprintf("%.17g", x)))
items <- function(x) paste(number(x), collapse = " ")
# one line, or as many as the longest argument has elements
say <- function(name, given, answers)
    cat(paste(name, do.call(paste, c(lapply(given, number), sep = ",")),
              do.call(paste, c(lapply(answers, number), sep = ",")), sep = "|"), sep = "\n")
say_lists <- function(name, given, answers)
    cat(paste(name, paste(sapply(given, items), collapse = ","), paste(number(answers), collapse = ","), sep = "|"), sep = "\n")

# The root, between low and high, of an increasing function that works on vectors, by halving.
halve <- function(f, low, high, steps = 200) {
    for (i in seq_len(steps)) {
        middle <- (low + high) / 2
        below <- f(middle) < 0
        low <- ifelse(below, middle, low)
        high <- ifelse(below, high, middle)
    }
    (low + high) / 2
}
# counts from 1 to a million, small and large alike often
sizes <- function(n, most = 1e6) floor(exp(runif(n, 0, log(most + 0.999))))
levels <- function(n) sample(c(0.8, 0.9, 0.95, 0.99, 0.998, 0.9999), n, TRUE)
# events: anywhere, and often at or near an end
events <- function(n) {
    k <- length(n)
    pmin(n, ifelse(runif(k) < 0.5, rbinom(k, n, runif(k)), ifelse(runif(k) < 0.5, pmin(n, rpois(k, 2)), pmax(0, n - rpois(k, 2)))))
}

# ---- distributions ----
p <- c(runif(cases), 10^-runif(cases, 0, 12), 1 - 10^-runif(cases, 0, 9))
a <- exp(runif(length(p), log(0.5), log(1e6)))
b <- exp(runif(length(p), log(0.5), log(1e6)))
# R's own inverses are refined here by halving on R's forward functions, on the logit and the log scale
lower <- p < 0.5
u <- halve(function(u) ifelse(lower, pbeta(plogis(u), a, b, log.p = TRUE) - log(p),
                              log1p(-p) - pbeta(plogis(u), a, b, lower.tail = FALSE, log.p = TRUE)), -300, 300)
say("beta_quantile", list(p, a, b), list(plogis(u)))
u <- halve(function(u) ifelse(lower, pgamma(exp(u), a, log.p = TRUE) - log(p),
                              log1p(-p) - pgamma(exp(u), a, lower.tail = FALSE, log.p = TRUE)), -300, 20)
say("gamma_quantile", list(p, a), list(exp(u)))
say("binomial_quantile", list(p, floor(a) + 1, pmin(1, b / 1e6)), list(qbinom(p, floor(a) + 1, pmin(1, b / 1e6))))
say("poisson_quantile", list(p, b), list(qpois(p, b)))
n <- sizes(cases); x <- events(n); q <- runif(cases)
say("binomial", list(x, n, q), list(dbinom(x, n, q), pbinom(x, n, q), pbinom(x - 1, n, q, lower.tail = FALSE)))
m <- sizes(cases); x <- pmax(0, round(m + rnorm(cases) * sqrt(m) * 3))
say("poisson", list(x, m), list(dpois(x, m), ppois(x, m), ppois(x - 1, m, lower.tail = FALSE)))
say("chisq_upper", list(b / 100, a / 1000), list(pchisq(b / 100, a / 1000, lower.tail = FALSE)))

# ---- proportions ----
n <- sizes(cases); x <- events(n); conf <- levels(cases); tail <- (1 - conf) / 2
wilson <- function(x, n, conf) t(mapply(function(x, n, conf)
    as.numeric(prop.test(x, n, conf.level = conf, correct = FALSE)$conf.int), x, n, conf))
w <- wilson(x, n, conf)
say("wilson", list(x, n, conf), list(x / n, ifelse(x == 0, 0, w[, 1]), ifelse(x == n, 1, w[, 2])))
w <- t(mapply(function(x, n, conf) as.numeric(prop.test(x, n, p = if (x / n < 0.5) 0.999 else 0.001, conf.level = conf)$conf.int), x, n, conf))
say("wilson_corrected", list(x, n, conf), list(x / n, ifelse(x == 0, 0, w[, 1]), ifelse(x == n, 1, w[, 2])))
logit_limit <- function(x, n, tail, half)
    plogis(halve(function(u) log(pbinom(x, n, plogis(u), lower.tail = FALSE) + half * dbinom(x, n, plogis(u))) - log(tail), -60, 60))
cp <- cbind(ifelse(x == 0, 0, logit_limit(x, n, tail, 1)), ifelse(x == n, 1, 1 - logit_limit(n - x, n, tail, 1)))
say("clopper_pearson", list(x, n, conf), list(x / n, cp[, 1], cp[, 2]))
mp <- cbind(ifelse(x == 0, 0, logit_limit(x, n, tail, 0.5)), ifelse(x == n, 1, 1 - logit_limit(n - x, n, tail, 0.5)))
say("midp", list(x, n, conf), list(x / n, mp[, 1], mp[, 2]))
p0 <- pmin(0.999, pmax(0.001, x / n + rnorm(cases) * sqrt(0.3 / n)))
t <- mapply(function(x, n, p0) c(binom.test(x, n, p0)$p.value, binom.test(x, n, p0, "greater")$p.value,
                                 binom.test(x, n, p0, "less")$p.value), x, n, p0)
say("binomial_test", list(x, n, p0), list(t[1, ], t[2, ], t[3, ]))

# ---- differences ----
n1 <- sizes(cases, 1e4); n2 <- sizes(cases, 1e4); x1 <- events(n1); x2 <- events(n2)
part <- function(f) t(mapply(f, x1, n1, x2, n2))
score <- function(x, n, z) { p <- x / n; (p + z^2 / (2 * n) + c(-1, 1) * z * sqrt(p * (1 - p) / n + z^2 / (4 * n^2))) / (1 + z^2 / n) }
z <- qnorm(1 - tail)
new <- t(mapply(function(x1, n1, x2, n2, z) {
    a <- score(x1, n1, z); b <- score(x2, n2, z); p1 <- x1 / n1; p2 <- x2 / n2
    c(p1 - p2, p1 - p2 - sqrt((p1 - a[1])^2 + (b[2] - p2)^2), p1 - p2 + sqrt((a[2] - p1)^2 + (p2 - b[1])^2))
}, x1, n1, x2, n2, z))
say("newcombe", list(x1, n1, x2, n2, conf), list(new[, 1], new[, 2], new[, 3]))
# restricted maximum likelihood by halving the derivative of the likelihood, not by its cubic
restricted <- function(d) {
    low <- pmax(0, -d); high <- pmin(1, 1 - d)
    part <- function(x, p) ifelse(x == 0, 0, x / p)
    halve(function(p2) -(part(x1, p2 + d) - part(n1 - x1, 1 - p2 - d) + part(x2, p2) - part(n2 - x2, 1 - p2)), low, high, 100)
}
z_at <- function(d, inflate) {
    p2 <- restricted(d); p1 <- p2 + d
    (x1 / n1 - x2 / n2 - d) / sqrt((p1 * (1 - p1) / n1 + p2 * (1 - p2) / n2) * inflate)
}
for (name in c("mee", "miettinen_nurminen")) {
    inflate <- if (name == "mee") 1 else (n1 + n2) / (n1 + n2 - 1)
    d <- x1 / n1 - x2 / n2
    low <- halve(function(d) z - z_at(d, inflate), rep(-1, cases), d, 60)
    high <- halve(function(d) -z - z_at(d, inflate), d, rep(1, cases), 60)
    say(name, list(x1, n1, x2, n2, conf), list(d, ifelse(d == -1, -1, low), ifelse(d == 1, 1, high)))
}

# ---- rates ----
x <- ifelse(runif(cases) < 0.1, 0, sizes(cases)); t1 <- exp(rnorm(cases, 3, 3))
g <- cbind(ifelse(x == 0, 0, qgamma(tail, x)), qgamma(1 - tail, x + 1))
say("garwood", list(x, t1, conf), list(x / t1, g[, 1] / t1, g[, 2] / t1))
low <- halve(function(u) log(ppois(x, exp(u), lower.tail = FALSE) + dpois(x, exp(u)) / 2) - log(tail), -40, 20)
high <- halve(function(u) log(tail) - log(ppois(x - 1, exp(u)) + dpois(x, exp(u)) / 2), -40, 20)
say("rate_midp", list(x, t1, conf), list(x / t1, ifelse(x == 0, 0, exp(low)) / t1, exp(high) / t1))
w <- rexp(cases) * 4; y <- w * (1 + rexp(cases) * sizes(cases, 1e4)); v <- runif(cases, 0.2, 1) * y * w
say("fay_feuer", list(y, v, w, t1, conf),
    list(y / t1, v / (2 * y) * qchisq(tail, 2 * y^2 / v) / t1, (v + w^2) / (2 * (y + w)) * qchisq(1 - tail, 2 * (y + w)^2 / (v + w^2)) / t1))
x <- sizes(cases, 1e5); e <- pmax(1e-3, x + rnorm(cases) * 2 * sqrt(x))
say("poisson_test", list(x, e), list(mapply(function(x, e) poisson.test(x, r = e)$p.value, x, e), pmin(1, 2 * pmin(ppois(x, e), ppois(x - 1, e, lower.tail = FALSE)))))

# ---- ratios ----
x1 <- ifelse(runif(cases) < 0.1, 0, sizes(cases, 1e5)); x2 <- ifelse(runif(cases) < 0.1, 0, sizes(cases, 1e5))
t1 <- exp(rnorm(cases)); t2 <- exp(rnorm(cases)); keep <- x1 + x2 > 0
r <- mapply(function(x1, x2, t1, t2, conf) { p <- poisson.test(c(x1, x2), c(t1, t2), conf.level = conf); c(p$p.value, p$estimate) }, x1, x2, t1, t2, conf)
tail <- (1 - conf) / 2
odds <- function(x, n) { p <- logit_limit(x, n, tail, 1); p / (1 - p) }
low <- ifelse(x1 == 0, 0, odds(x1, x1 + x2) * t2 / t1); high <- ifelse(x2 == 0, Inf, t2 / t1 / odds(x2, x1 + x2))
say("ratio_exact", lapply(list(x1, t1, x2, t2, conf), `[`, keep), lapply(list(r[2, ], low, high), `[`, keep))
say("ratio_test", lapply(list(x1, t1, x2, t2), `[`, keep), list(r[1, keep]))

# ---- quantiles ----
for (i in seq_len(cases)) {
    n <- sample(1:60, 1); p <- sample(c(0.25, 0.5, 0.75, 0.9, runif(1)), 1)
    x <- if (i %% 2) sort(round(rexp(n) * 20)) else sort(rexp(n))
    say_lists("quantile", list(x, p), sapply(c(2, 1, 4:9), function(type) quantile(x, p, type = type)))
}
n <- sizes(cases, 1e7); p <- sample(c(0.25, 0.5, 0.75, 0.9), cases, TRUE)
say("quantile_ranks", list(n, p, conf), {
    low <- qbinom((1 - conf) / 2, n, p); high <- qbinom(1 - (1 - conf) / 2, n, p) + 1
    list(low, ifelse(high > n, 0, high))
})

# ---- ranks ----
for (i in seq_len(cases / 2)) {
    m <- sample(1:40, 1); n <- sample(1:40, 1); tied <- i %% 2 == 0
    x <- if (tied) rpois(m, 6) else round(rnorm(m), 6); y <- if (tied) rpois(n, 7) else round(rnorm(n, 0.5), 6)
    if (!tied && any(duplicated(c(x, y)))) next
    side <- function(s) wilcox.test(x, y, s)$p.value
    if (length(unique(c(x, y))) > 1)
        say_lists("mann_whitney", list(x, y), c(wilcox.test(x, y)$statistic, side("two.sided"), side("greater"), side("less")))
    # van Elteren's test in up to five strata: the mean and variance of sums of ranks drawn without replacement
    sx <- sample(0:4, m, TRUE); sy <- sample(0:3, n, TRUE)
    both <- intersect(sx, sy)
    if (length(both) > 1) {
        part <- vapply(both, function(s) {
            a <- sum(sx == s); b <- sum(sy == s); r <- rank(c(x[sx == s], y[sy == s]))
            c(sum(r[seq_len(a)]) - a * mean(r), a * b / (a + b) * var(r), a + b, a, b)
        }, numeric(5))
        size <- part[3, ]
        ahead <- sum(part[1, ] / (size + 1)); chance <- sum(part[2, ] / (size + 1)^2)
        say_lists("van_elteren", list(x, sx, y, sy), c(ahead, if (chance > 0) 2 * pnorm(-abs(ahead) / sqrt(chance)) else 1,
            0.5 + sum(part[1, ] / size) / sum(part[4, ]), sum(part[4, ] * part[5, ] * (size + 1) / size^2) / 12 / sum(part[4, ])^2))
        # its shift: the test's sum, taken anew with x moved by each difference and between each two, is 0 there, and at most
        # 1.96 of its standard deviations away within the limits
        d <- sort(unique(unlist(lapply(both, function(s) outer(x[sx == s], y[sy == s], "-")))))
        sum_at <- function(by) sum(vapply(both, function(s) {
            u <- outer(x[sx == s], y[sy == s], "-") - by
            (sum(u > 0) + sum(u == 0) / 2 - length(u) / 2) / (sum(sx == s) + sum(sy == s) + 1)
        }, 0))
        between <- c(d[1] - 1, (d[-1] + d[-length(d)]) / 2, d[length(d)] + 1)
        t <- round(vapply(between, sum_at, 0), 9)
        up <- max(which(t > 0)); down <- min(which(t < 0)) # 0 between the two: either d is as good as the other
        reach <- qnorm(0.975) * sqrt(chance)
        inside <- range(which(abs(t) <= reach)) # the shifts between two differences that are not rejected
        if (chance > 0) say_lists("shift_within", list(x, sx, y, sy), c(if (down - up > 1) (d[up] + d[down - 1]) / 2 else d[up],
            if (reach < max(abs(t))) c(d[inside[1] - 1], d[inside[2]]) else c(NaN, NaN)))
    }
    middle <- median(outer(x, y, "-"))
    limits <- c(NaN, NaN)
    if (!tied && qwilcox(0.025, m, n) > 0) limits <- wilcox.test(x, y, conf.int = TRUE)$conf.int
    say_lists(if (tied) "hodges_lehmann" else "hodges_lehmann_limits", list(x, y), if (tied) middle else c(middle, limits))
    k <- sample(2:5, 1); v <- if (tied) rpois(m + n, 5) else rnorm(m + n); g <- sample(k, m + n, TRUE)
    if (length(unique(g)) > 1 && length(unique(v)) > 1)
        say_lists("kruskal_wallis", list(v, g - 1, k), with(kruskal.test(v, factor(g)), c(statistic, parameter, p.value)))
    n <- sample(3:30, 1); x <- if (tied) rpois(n, 4) else rnorm(n); y <- if (tied) rpois(n, 4) + x / 4 else rnorm(n) + x / 2
    if (length(unique(x)) > 1 && length(unique(y)) > 1) {
        ties <- any(duplicated(x)) || any(duplicated(y))
        t <- function(s) cor.test(x, y, method = "kendall", alternative = s, exact = !ties, continuity = TRUE)
        # with ties R corrects both sides towards 0, so only the two-sided p is held against it
        say_lists("kendall", list(x, y), c(t("two.sided")$estimate, t("two.sided")$p.value,
                                           if (!ties) c(t("greater")$p.value, t("less")$p.value)))
    }
}

# ---- tables ----
for (i in seq_len(cases)) {
    r <- sample(2:5, 1); k <- sample(2:5, 1); t <- matrix(rpois(r * k, rexp(1) * 40 + 1), r)
    t <- t[rowSums(t) > 0, colSums(t) > 0, drop = FALSE]
    if (nrow(t) > 1 && ncol(t) > 1) {
        c <- chisq.test(t, correct = FALSE)
        say_lists("chisq", list(as.vector(t(t)), ncol(t)), c(c$statistic, c$parameter, c$p.value, c$stdres[1, 2]))
    }
    t <- matrix(rpois(4, rexp(1) * 10^sample(0:4, 1)), 2)
    if (all(rowSums(t) > 0) && all(colSums(t) > 0)) {
        f <- function(s) fisher.test(t, alternative = s, conf.int = FALSE)$p.value
        say_lists("fisher", list(as.vector(t(t))), c(f("two.sided"), f("greater"), f("less")))
        say_lists("yates", list(as.vector(t(t))), with(chisq.test(t), c(statistic, p.value)))
    }
    if (t[1, 2] + t[2, 1] > 0)
        say_lists("mcnemar", list(t[1, 2], t[2, 1]), c(mcnemar.test(t, correct = FALSE)$statistic, mcnemar.test(t)$statistic, binom.test(t[1, 2], t[1, 2] + t[2, 1])$p.value))
    n <- rpois(k + 1, 50) + 1; x <- rbinom(k + 1, n, runif(k + 1, 0.1, 0.6))
    if (sum(x) > 0)
        say_lists("trend", list(x, n), with(prop.trend.test(x, n), c(statistic, p.value)))
    p <- c(rbeta(sample(0:30, 1), 0.3, 3), NA)[sample(1:2, 1):1]
    p <- rbeta(sample(1:30, 1), 0.3, 3); p[runif(length(p)) < 0.1] <- NA
    say_lists("benjamini_hochberg", list(p), p.adjust(p, "BH"))
    say_lists("holm", list(p), p.adjust(p, "holm"))
    x <- 10^sample(0:8, 1) + round(rnorm(sample(2:30, 1)), 3)
    say_lists("summary", list(x), c(mean(x), sd(x)))
    q <- runif(sample(1:12, 1))
    d <- 1
    for (s in q) d <- c(d * (1 - s), 0) + c(0, d * s)
    say_lists("poisson_binomial", list(q), d)
}
for (file in sort(Sys.glob(file.path(here, "stats_*.R")))) source(file, local = TRUE)
