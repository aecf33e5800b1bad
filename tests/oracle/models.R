#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
# The oracle of casemix.csv, calibration.csv and mixes.csv: odds ratios with limits, c-statistic and calibration of the
# case-mix models (src/measure/casemix.h) by glm or by Firth's penalty, units by parts of each mix by chisq.test; from canonical
# logs, in base R.
#
#   Rscript tests/oracle/models.R [--network DIR] [--period P] [--confidence C] --pack DIR LOG...
#
# Ends with `N passed, N failed`: one test for each row and column.

ORACLE_MODELS <- TRUE
here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE)[1]))
source(file.path(here, "comparisons.R"))

read_table <- function(options, name) read.csv(file.path(options$pack, name), colClasses = "character", na.strings = character())

# Compares columns of rows with the same keys; what is fitted to 1e-6, else to 1e-9.
hold_columns <- function(want, got, keys, file, fitted = character()) {
  key <- function(d) do.call(paste, unname(as.list(d[keys])))
  check(identical(key(want), key(got)), file, ": rows are not those expected: ",
        paste(head(c(setdiff(key(got), key(want)), setdiff(key(want), key(got)))), collapse = "; "))
  if (!identical(key(want), key(got))) return(invisible())
  for (name in setdiff(names(want), keys)) {
    w <- want[[name]]; g <- got[[name]]
    same <- if (is.character(w)) w == g else {
      number <- suppressWarnings(as.numeric(g))
      tolerance <- if (name %in% fitted) 1e-6 * (1 + abs(log(pmax(abs(w), 1e-300)))) else 1e-9
      ifelse(is.na(w) | is.nan(w), g == "", !is.na(number) & abs(number - w) <= pmax(tolerance * abs(w), 1e-12))
    }
    check(same, file, ", ", name, " differs: ", paste(head(sprintf("%s expected %s, found %s", key(want)[!same], format(w[!same], digits = 12), g[!same]), 4), collapse = "; "))
  }
}

# ---- Case-mix --------------------------------------------------------------------------------------------------------------

# Levels of a factor that occur, in the order of their code list, `unknown` last.
levels_of <- function(name, values) {
  codes <- if (name == "journey_class") JOURNEYS else codes_of(name, values)
  c(codes[codes %in% values], if (anyNA(values)) "unknown")
}

# The design: an intercept, a column for each level but the reference. Of equally common levels any may be the reference: the
# one that the program took; of columns that are combinations of others any may be left out: those that it left out.
design_of <- function(columns, mine) {
  x <- matrix(1, nrow(columns), 1)
  keep <- integer()
  for (r in seq_len(nrow(mine))) {
    if (mine$odds_ratio[r] == "1" && mine$lower[r] == "" || mine$odds_ratio[r] == "") next
    x <- cbind(x, as.numeric(columns[[mine$factor[r]]] == mine$level[r]))
    keep <- c(keep, r)
  }
  list(x = x, rows = keep)
}

expect_model <- function(indicator, records, caps, a, got) {
  j <- judged(indicator, records, caps)
  y <- j$value[j$counted]
  rows <- records[j$counted, ]
  model <- case_mix_frame(indicator$indicator, rows, y, caps)
  rows$journey_class <- as.character(model$journey_class)
  base <- data.frame(indicator = indicator$indicator, fit = "refused", reason = "fewer than 5 events a parameter", factor = "", level = "", records = NA,
                     events = NA, odds_ratio = NA, lower = NA, upper = NA, model_records = length(y), model_events = sum(y),
                     parameters = model$parameters, c_statistic = NA, stringsAsFactors = FALSE)
  if (model$refused) return(list(casemix = base))
  mine <- got[got$indicator == indicator$indicator, ]
  columns <- data.frame(lapply(rows[model$names], function(v) ifelse(is.na(v), "unknown", as.character(v))), stringsAsFactors = FALSE)
  terms <- do.call(rbind, lapply(model$names, function(name) data.frame(factor = name, level = levels_of(name, rows[[name]]), stringsAsFactors = FALSE)))
  at <- function(i) columns[[terms$factor[i]]] == terms$level[i]
  out <- base[rep(1, nrow(terms)), ]
  out[c("factor", "level")] <- terms
  out$reason <- if (model$reduced) "fewer than 10 events a parameter for all factors" else ""
  out$records <- vapply(seq_len(nrow(terms)), function(i) sum(at(i)), 0)
  out$events <- vapply(seq_len(nrow(terms)), function(i) sum(y[at(i)]), 0)
  if (nrow(mine) != nrow(out)) return(list(casemix = out))
  reference <- mine$odds_ratio == "1" & mine$lower == ""
  commonest <- as.logical(ave(out$records, out$factor, FUN = function(n) n == max(n)))
  check(all(commonest[reference]) && all(tapply(reference, out$factor, sum) == 1), "one level of each factor is the reference, the commonest: ", indicator$indicator)
  design <- design_of(columns, mine)
  x <- design$x
  left_out <- sum(mine$odds_ratio == "")
  check(qr(x)$rank == ncol(x) && left_out == sum(!reference) + 1 - qr(model.matrix(~ ., model$frame))$rank, "as many columns are left out as are combinations of others")
  fit <- glm.fit(x, y, family = binomial(), control = glm.control(epsilon = 1e-14, maxit = 100))
  penalised <- separated(fit)
  b <- if (penalised) firth_coefficients(x, y) else fit$coefficients
  p <- plogis(as.vector(x %*% b))
  se <- sqrt(diag(solve(crossprod(x, p * (1 - p) * x))))
  out$odds_ratio[reference] <- 1
  out[design$rows, c("odds_ratio", "lower", "upper")] <- exp(cbind(b, b - qnorm(1 - a / 2) * se, b + qnorm(1 - a / 2) * se)[-1, ])
  out$fit <- if (penalised) "firth" else "maximum-likelihood"
  risk <- if (penalised) firth(x, y) else p
  order_of_risk <- rank(signif(risk, 10))
  events <- sum(y)
  out$c_statistic <- (sum(order_of_risk[y == 1]) - events * (events + 1) / 2) / (events * sum(1 - y))
  list(casemix = out, calibration = calibration(indicator$indicator, risk, y, a))
}

# Tenths by ascending risk: equal risks stay together, in the tenth into which the first of them falls.
calibration <- function(name, risk, y, a) {
  place <- rank(signif(risk, 10), ties.method = "min") - 1
  tenth <- match(floor(place * 10 / length(y)), sort(unique(floor(place * 10 / length(y)))))
  over <- function(v, f) as.numeric(tapply(v, tenth, f))
  x <- over(y, sum); n <- over(y, length)
  limits <- vapply(seq_along(n), function(i) wilson(x[i], n[i], a), numeric(3))
  data.frame(indicator = name, tenth = as.character(seq_along(n)), lowest_risk = over(risk, min), highest_risk = over(risk, max), records = n, events = x,
             expected = over(risk, sum), mean_risk = over(risk, mean), estimate = limits[1, ], lower = limits[2, ], upper = limits[3, ], stringsAsFactors = FALSE)
}

hold_models <- function(options, records, catalogue, caps, a) {
  got <- read_table(options, "casemix.csv")
  wanted <- Filter(function(k) catalogue$indicator[k] %in% ADJUSTED && catalogue$measure[k] == "share", judged_rows(catalogue))
  models <- lapply(wanted, function(k) expect_model(catalogue[k, ], records, caps, a, got))
  check(identical(unique(got$indicator), catalogue$indicator[wanted]), "casemix.csv has the models ", paste(unique(got$indicator), collapse = ", "))
  if (length(wanted)) hold_columns(do.call(rbind, lapply(models, `[[`, "casemix")), got, c("indicator", "factor", "level"), "casemix.csv",
                                   c("odds_ratio", "lower", "upper", "c_statistic"))
  calibrated <- do.call(rbind, lapply(models, `[[`, "calibration"))
  groups <- read_table(options, "calibration.csv")
  if (is.null(calibrated)) check(nrow(groups) == 0, "calibration of no model")
  else hold_columns(calibrated, groups, c("indicator", "tenth"), "calibration.csv", c("lowest_risk", "highest_risk", "expected", "mean_risk"))
}

# ---- Mixes by unit -----------------------------------------------------------------------------------------------------------

expect_mix <- function(indicator, records, senders, caps) {
  got <- collect(indicator, records, caps)
  codes <- if (indicator$events == "event") EVENTS else codes_of(indicator$events, records[[indicator$events]])
  counts <- matrix(vapply(senders, function(u) mix_counts(indicator, got, which(records$sending_unit == u & got$counted), list(records = records)), numeric(length(codes))),
                   length(codes), length(senders))
  units <- which(colSums(counts) > 0); parts <- which(rowSums(counts) > 0)
  if (!length(units) || !length(parts)) return(NULL)
  t <- counts[parts, units, drop = FALSE]
  whole <- sum(t)
  expected <- outer(rowSums(t), colSums(t)) / whole
  test <- if (length(units) > 1 && length(parts) > 1) chisq.test(t, correct = FALSE) else NULL
  if (is.null(test)) return(NULL) # no unit, or no part, to hold against another: no residuals
  data.frame(indicator = indicator$indicator, unit = senders[units[col(t)]], part = codes[parts[row(t)]], events = as.numeric(t), total = colSums(t)[col(t)],
             expected = as.numeric(expected), residual = as.numeric(test$stdres), chi_square = unname(test$statistic), df = unname(test$parameter), p = test$p.value,
             cramer_v = sqrt(unname(test$statistic) / (whole * (min(dim(t)) - 1))), smallest_expected = min(test$expected), stringsAsFactors = FALSE)
}

hold_mixes <- function(options, records, senders, catalogue, caps) {
  want <- do.call(rbind, lapply(which(catalogue$measure == "mix"), function(k) expect_mix(catalogue[k, ], records, senders, caps)))
  got <- read_table(options, "mixes.csv")
  if (is.null(want)) return(check(nrow(got) == 0, "mixes of nothing"))
  falling <- tapply(abs(as.numeric(got$residual)), got$indicator, function(r) all(diff(r) <= 0))
  check(falling, "the largest residuals come first")
  sorted <- function(d) { d <- d[order(match(d$indicator, catalogue$indicator), d$unit, d$part, method = "radix"), ]; rownames(d) <- NULL; d }
  hold_columns(sorted(want), sorted(got), c("indicator", "unit", "part"), "mixes.csv")
}

main_models <- function() {
  options <- options_read(commandArgs(trailingOnly = TRUE))
  settings <- settings_read(options$network)
  records <- expected(options)$records
  senders <- sort(unique(records$sending_unit), method = "radix")
  if (!is.null(options$period)) records <- records[month_of(records$day) >= period_months(options$period, settings$year_starts)[1], ]
  catalogue <- catalogue_read(options$catalogue, options$network)
  hold_models(options, records, catalogue, settings$caps, 1 - as.numeric(options$confidence))
  hold_mixes(options, records, senders, catalogue, settings$caps)
  cat(tests$passed, " passed, ", tests$failed, " failed\n", sep = "")
  if (tests$failed > 0) quit(status = 1)
}
main_models()
