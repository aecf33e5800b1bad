# SPDX-License-Identifier: GPL-3.0-or-later
# Units and series for stats.R: funnel limits, spread between units, shrinkage, control and run charts, Erlang, blocks.
set.seed(20310102)
interpolated <- function(r, lower, point, p, size) pmax(0, (r - (lower - p) / point) / size)
n <- sizes(cases, 1e5); q <- runif(cases)^2; p <- sample(c(0.001, 0.025, 0.975, 0.999), cases, TRUE)
r <- qbinom(p, n, q)
say("funnel_binomial_limit", list(q, n, p), list(interpolated(r, pbinom(r, n, q), dbinom(r, n, q), p, n)))
m <- exp(runif(cases, log(0.05), log(1e5))); r <- qpois(p, m)
say("funnel_poisson_limit", list(m, p), list(interpolated(r, ppois(r, m), dpois(r, m), p, m)))
x <- rbinom(cases, n, q)
say("funnel_binomial_p", list(x, n, q), list(pmin(1, 2 * pmin(pbinom(x, n, q), pbinom(x - 1, n, q, lower.tail = FALSE)))))
x <- sizes(cases, 5000); e <- x * exp(rnorm(cases, 0, 0.5))
byar <- function(x, z) x * (1 - 1 / (9 * x) + z / (3 * sqrt(x)))^3
say("expected_ratio", list(x, e), list(x / e, qgamma(0.025, x) / e, qgamma(0.975, x + 1) / e, byar(x, -qnorm(0.975)) / e, byar(x + 1, qnorm(0.975)) / e))
for (i in seq_len(cases)) {
    k <- sample(2:20, 1); v <- rexp(k) + 0.01; y <- rnorm(k, 0, sqrt(v + rexp(1) * sample(0:1, 1)))
    Q <- function(t) { w <- 1 / (v + t); m <- sum(w * y) / sum(w); sum(w * (y - m)^2) }
    w <- 1 / v
    dl <- max(0, (Q(0) - (k - 1)) / (sum(w) - sum(w^2) / sum(w)))
    pm <- if (Q(0) <= k - 1) 0 else uniroot(function(t) Q(t) - (k - 1), c(0, 1e4), tol = 1e-14, maxiter = 10000)$root
    mean_at <- function(t) sum(y / (v + t)) / sum(1 / (v + t))
    say_lists("pooled", list(y, v), c(dl, mean_at(dl), sqrt(1 / sum(1 / (v + dl))), Q(0), pm, mean_at(pm)))
    z <- rnorm(k, 0, 2); q <- sample(c(0, 0.1, 0.2), 1); c <- floor(q * k); s <- sort(z)
    say_lists("winsorise", list(z, q), if (k > 2 * c) pmin(pmax(z, s[c + 1]), s[k - c]) else z)
    # Poisson-binomial limits, by convolution
    risk <- runif(sample(2:60, 1)); d <- 1
    for (t in risk) d <- c(d * (1 - t), 0) + c(0, d * t)
    o <- sample(0:length(risk), 1); cum <- cumsum(d); tail <- sample(c(0.025, 0.975), 1); at <- which(cum >= tail)[1]
    say_lists("expected_limit", list(risk, o, tail), c(min(1, 2 * min(sum(d[0:o + 1]), sum(d[o:length(risk) + 1]))), max(0, (at - 1 - (cum[at] - tail) / d[at]) / sum(risk))))
    value <- rnorm(sample(3:40, 1)); if (runif(1) < 0.3) value[sample(length(value), 1)] <- NA
    mr <- mean(abs(diff(value)), na.rm = TRUE)
    say_lists("xmr", list(value), c(mean(value, na.rm = TRUE), mean(value, na.rm = TRUE) + c(-3, 3) * mr / 1.128))
    k <- sample(4:30, 1); size <- rpois(k, 60) + 1; x <- rbinom(k, size, 0.3); p <- sum(x) / sum(size)
    z <- (x / size - p) / sqrt(p * (1 - p) / size); s <- mean(abs(diff(z))) / 1.128
    u <- sum(x) / sum(size); zu <- (x / size - u) / sqrt(u / size); su <- mean(abs(diff(zu))) / 1.128
    say_lists("laney", list(x, size), c(s, pmax(0, p - 3 * s * sqrt(p * (1 - p) / size[1])), pmin(1, p + 3 * s * sqrt(p * (1 - p) / size[1])), su, u + 3 * su * sqrt(u / size[1])))
    g <- rgeom(sample(1:30, 1), rbeta(1, 1, 5)); a <- sample(c(0.5, 0.99865, runif(1)), 1)
    say_lists("g_chart", list(g, a), c(mean(g) + 3 * sqrt(mean(g) * (mean(g) + 1)), qgeom(a, 1 / (1 + mean(g)))))
    t <- rexp(sample(3:30, 1), 1e-3)^sample(1:2, 1); y <- t^0.2777; mr <- mean(abs(diff(y)))
    say_lists("t_chart", list(t), c(mean(y), max(0, mean(y) - 3 * mr / 1.128), mean(y) + 3 * mr / 1.128))
    lag <- sample(1:6, 1); y <- as.numeric(arima.sim(list(ar = 0.5), sample(10:60, 1)))
    b <- rowMeans(embed(y, lag)); ring <- rowMeans(embed(c(y, y[seq_len(lag - 1)]), lag))
    say_lists("blocks", list(y, lag), c(mean(b), mean((b - mean(b))^2) * lag / length(y), mean(ring), mean((ring - mean(ring))^2) * lag / length(y)))
}
# runs of a fair coin: all sequences of n tosses
for (n in 1:14) {
    tosses <- as.matrix(expand.grid(rep(list(0:1), n)))
    longest <- apply(tosses, 1, function(s) max(rle(s)$lengths)); crossings <- apply(tosses, 1, function(s) sum(diff(s) != 0))
    for (l in seq_len(n)) {
        c <- sample(0:n, 1)
        say_lists("runs", list(n, l, c), c(mean(longest >= l), mean(crossings <= c), mean(longest > l | crossings < c)))
    }
}
# p of a shift: all orders of as many points above and below, at least ten of them
for (n in 10:14) {
    tosses <- as.matrix(expand.grid(rep(list(0:1), n)))
    longest <- apply(tosses, 1, function(s) max(rle(s)$lengths)); crossings <- apply(tosses, 1, function(s) sum(diff(s) != 0))
    for (i in c(1, sample(nrow(tosses), 30))) {
        alike <- rowSums(tosses) == sum(tosses[i, ])
        say_lists("shift", list(tosses[i, ]), min(1, 2 * mean(longest[alike] >= longest[i]), 2 * mean(crossings[alike] <= crossings[i])))
    }
}
for (n in 10:200) say_lists("run_limits", list(n), c(round(log2(n) + 3), qbinom(0.05, n - 1, 0.5)))
servers <- sizes(cases, 300); load <- exp(runif(cases, log(0.01), log(400)))
b <- dpois(servers, load) / ppois(servers, load); waits <- servers * b / (servers - load * (1 - b))
say("erlang", list(servers, load), list(b, ifelse(load >= servers, 1, waits)))
# Clustered tails: chi-square forms of the gamma functions
m <- exp(runif(cases, -1, 5)); w <- 1 + rexp(cases); x <- rpois(cases, m) + (1:cases %% 7)
upper <- pchisq(2 * m / w, 2 * x / w); lower <- pchisq(2 * m / w, 2 * (x / w + 1), lower.tail = FALSE)
say("clustered", list(x, m, w), list(pmin(1, 2 * pmin(ifelse(x > 0, upper, 1), lower))))
# Shrinkage: the likelihood is maximised by nlm in other coordinates, from the moments
for (i in seq_len(cases / 4)) {
    k <- sample(4:25, 1); n <- rpois(k, 200) + 20; x <- rbinom(k, n, rbeta(k, 6, 14))
    f <- function(t) { a <- exp(t[1]); b <- exp(t[2]); -sum(lbeta(a + x, b + n - x) - lbeta(a, b)) }
    t <- nlm(f, c(log(6), log(14)), gradtol = 1e-10, steptol = 1e-12, iterlim = 1000)$estimate
    t <- optim(t, f, method = "BFGS", control = list(reltol = 1e-16, ndeps = c(1e-5, 1e-5)))$par
    a <- exp(t[1]); b <- exp(t[2])
    if (a + b < 500) say_lists("beta_binomial", list(x, n), c(a / (a + b), (a + x[1]) / (a + b + n[1]), n[1] / (a + b + n[1])))
    t <- rexp(k, 0.01) + 5; x <- rpois(k, t * rgamma(k, 3, 10))
    f <- function(s) { a <- exp(s[1]); b <- exp(s[2]); -sum(lgamma(a + x) - lgamma(a) + a * log(b) - (a + x) * log(b + t)) }
    s <- optim(c(log(3), log(10)), f, method = "BFGS", control = list(reltol = 1e-16, maxit = 1000, ndeps = c(1e-4, 1e-4)))$par
    a <- exp(s[1]); b <- exp(s[2])
    if (a < 30) say_lists("gamma_poisson", list(x, t), c(a / b, (a + x[1]) / (b + t[1]), t[1] / (b + t[1])))
}
a <- exp(runif(cases, 0, 5)); b <- exp(runif(cases, 0, 6)); n <- sizes(cases, 5000); x <- rbinom(cases, n, 0.3)
say("beta_posterior", list(a, b, x, n), list(qbeta(0.025, a + x, b + n - x), qbeta(0.975, a + x, b + n - x)))
