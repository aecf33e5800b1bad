# SPDX-License-Identifier: GPL-3.0-or-later
# Logistic regression, separation, Firth's fit and trends against R. Sourced by stats.R, whose helpers it uses.
tight <- glm.control(epsilon = 1e-15, maxit = 100)

# grouped or single records; factors, numbers near 0, years
random_design <- function(i, n, p) {
    kind <- c("number", "factor", "year")[1 + i %% 3]
    x <- matrix(switch(kind, number = rnorm(n * p), factor = rbinom(n * p, 1, 0.4), year = sample(2015:2024, n * p, TRUE)), n)
    cbind(1, x)
}
centre <- function(x) { s <- sweep(x, 2, colMeans(x)); as.vector(s %*% rnorm(ncol(x)) / (1 + max(abs(s)))) }
for (i in seq_len(cases)) {
    n <- sample(15:120, 1); p <- sample(1:4, 1); x <- random_design(i, n, p)
    t <- if (i %% 2) rep(1, n) else sample(1:20, n, TRUE)
    y <- rbinom(n, t, plogis(rnorm(1) + centre(x)))
    f <- glm(cbind(y, t - y) ~ x - 1, family = binomial, control = tight)
    # where a fit runs far out R stops early: those are for the exact test of separation below
    if (!f$converged || max(abs(predict(f))) > 12 || f$deviance < 1e-6) next
    # at R's last weights, not those before
    w <- t * fitted(f) * (1 - fitted(f)); q <- qr(x * sqrt(w), tol = 1e-11)
    if (q$rank < ncol(x)) next
    se <- sqrt(diag(chol2inv(qr.R(q))))[order(q$pivot)]
    null <- glm(cbind(y, t - y) ~ 1, family = binomial, control = tight)
    say_lists("logistic", list(as.vector(t(x)), y, t, ncol(x)), c(f$coef, se, f$deviance, null$deviance, logLik(f), n - ncol(x)))
    if (all(t == 1))
        say_lists("c_statistic", list(fitted(f), y), c(wilcox.test(fitted(f)[y == 1], fitted(f)[y == 0])$statistic / sum(y) / sum(1 - y), mean((y - fitted(f))^2)))
}

# Whole numbers, so that it is certain whether a line parts the outcomes: it would, if there is one, touch two points
parted <- function(x, y) {
    if (length(unique(y)) < 2) return(TRUE)
    for (i in 2:nrow(x)) for (j in 1:(i - 1)) {
        along <- x[i, ] - x[j, ]
        if (all(along == 0)) next
        side <- as.vector(x %*% c(-along[2], along[1]))
        for (s in list(side, -side))
            if (max(s[y == 0]) <= min(s[y == 1]) && (max(s) > min(s))) return(TRUE)
    }
    FALSE
}
for (i in seq_len(cases)) {
    n <- sample(5:30, 1); x <- matrix(sample(-5:5, 2 * n, TRUE), n)
    if (qr(cbind(1, x))$rank < 3) next
    y <- as.integer(x %*% rnorm(2) + rnorm(n) * sample(c(0.1, 1, 3), 1) > 0)
    say_lists("separation", list(as.vector(t(cbind(1, x))), y, rep(1, n), 3), as.numeric(parted(x, y)))
    # a level in which all had the event: it runs off, the others have the fit without it
    v <- rbinom(n, 1, 0.3); if (sum(v) == 0 || parted(x[v == 0, , drop = FALSE], y[v == 0]) || qr(cbind(1, x)[v == 0, , drop = FALSE])$rank < 3) next
    y[v == 1] <- 1
    f <- glm(y ~ x, family = binomial, subset = v == 0, control = tight)
    if (max(abs(predict(f))) < 12)
        say_lists("quasi_separation", list(as.vector(t(cbind(1, x, v))), y, rep(1, n), 4), c(f$coef, Inf, f$deviance))
}

# Firth's score solved by Newton's method on its numerical derivative
firth_score <- function(b, x, y, t) {
    p <- as.vector(plogis(x %*% b)); w <- t * p * (1 - p)
    h <- rowSums(qr.Q(qr(x * sqrt(w)))^2)
    as.vector(crossprod(x, y - t * p + h * (0.5 - p)))
}
penalised <- function(b, x, y, t) {
    u <- as.vector(x %*% b); w <- t * plogis(u) * plogis(-u)
    sum(y * plogis(u, log.p = TRUE) + (t - y) * plogis(-u, log.p = TRUE)) + sum(log(abs(diag(qr.R(qr(x * sqrt(w)))))))
}
solve_firth <- function(x, y, t, b, free = seq_along(b)) {
    for (step in 1:200) {
        s <- firth_score(b, x, y, t)[free]
        J <- sapply(free, function(j) { h <- 1e-5; e <- replace(0 * b, j, h); (firth_score(b + e, x, y, t)[free] - firth_score(b - e, x, y, t)[free]) / (2 * h) })
        d <- -solve(J, s); k <- 1
        while (k > 1e-6 && !isTRUE(penalised(replace(b, free, b[free] + k * d), x, y, t) >= penalised(b, x, y, t) - 1e-12)) k <- k / 2
        b[free] <- b[free] + k * d
        if (max(abs(k * d)) < 1e-11) return(b)
    }
    NULL
}
for (i in seq_len(cases / 4)) {
    n <- sample(8:40, 1); p <- sample(1:3, 1); x <- cbind(1, matrix(if (i %% 2) rnorm(n * p) else rbinom(n * p, 1, 0.4), n))
    if (qr(x)$rank < p + 1) next
    t <- sample(1:3, n, TRUE); y <- rbinom(n, t, plogis(-1 + x[, 2] * 2))
    b <- tryCatch(solve_firth(x, y, t, rep(0, p + 1)), error = function(e) NULL)
    if (is.null(b)) next
    u <- as.vector(x %*% b); w <- t * plogis(u) * plogis(-u)
    say_lists("firth", list(as.vector(t(x)), y, t, p + 1), c(b, sqrt(diag(solve(crossprod(x * sqrt(w)))))))
    if (i %% 4 > 1) next
    top <- penalised(b, x, y, t); free <- setdiff(seq_len(p + 1), 2)
    loss <- function(v) { r <- solve_firth(x, y, t, replace(b, 2, v), free); 2 * (top - penalised(r, x, y, t)) - qchisq(0.95, 1) }
    limit <- function(sign) tryCatch(uniroot(loss, sort(b[2] + sign * c(0.01, 30)), tol = 1e-9)$root, error = function(e) NULL)
    low <- limit(-1); high <- limit(1)
    if (!is.null(low) && !is.null(high)) say_lists("firth_limits", list(as.vector(t(x)), y, t, p + 1), c(b[2], low, high))
}

# ---- trends ----
for (i in seq_len(cases)) {
    k <- sample(3:30, 1); x <- if (i %% 2) seq_len(k) else sort(runif(k) * 10 + 2015); e <- if (i %% 3) rexp(k) * 100 + 1 else rep(1, k)
    y <- rpois(k, e * exp(rnorm(1, -1) + rnorm(1) * (x - mean(x)) / (max(x) - min(x))) * rgamma(k, 4, 4))
    if (sum(y > 0) < 2) next
    f <- glm(y ~ x, family = poisson, offset = log(e), control = tight)
    m <- fitted(f); X <- cbind(1, x - mean(x)); V <- solve(crossprod(X * sqrt(m))); se <- sqrt(V[2, 2]); phi <- sum((y - m)^2 / m) / (k - 2)
    s <- if (phi > 1) sqrt(phi) * se else se
    null <- glm(y ~ 1, family = poisson, offset = log(e), control = tight); m0 <- fitted(null); from <- x - weighted.mean(x, m0)
    score <- sum(from * (y - m0))^2 / sum(m0 * from^2)
    say_lists("trend_poisson", list(y, e, x), c(f$coef[2], se, phi, f$deviance, null$deviance,
        exp(f$coef[2]), exp(f$coef[2] + c(-1, 1) * qnorm(0.975) * se),
        exp(f$coef[2] + c(-1, 1) * (if (phi > 1) qt(0.975, k - 2) else qnorm(0.975)) * s),
        2 * (if (phi > 1) pt(-abs(f$coef[2] / s), k - 2) else pnorm(-abs(f$coef[2] / s))), score, f$coef[1], sqrt(V[1, 1] + mean(x)^2 * V[2, 2] - 2 * mean(x) * V[1, 2])))
    n <- sample(5:200, k, TRUE); y <- rbinom(k, n, plogis(-1 + (x - mean(x)) / (max(x) - min(x))))
    f <- glm(cbind(y, n - y) ~ x, family = binomial, control = tight); m <- fitted(f)
    if (max(abs(predict(f))) < 12)
        say_lists("trend_logistic", list(y, n, x), c(f$coef[2], sqrt(solve(crossprod(X * sqrt(n * m * (1 - m))))[2, 2]),
            sum((y - n * m)^2 / (n * m * (1 - m))) / (k - 2), f$deviance))
}
