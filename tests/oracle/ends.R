# SPDX-License-Identifier: GPL-3.0-or-later
# Both ends' logs joined, from the written definition: every pair of rows that could be one transfer is looked at, best first.

RECEIVERS_WORD <- c("arrived_at", "handed_over_at", "handover_signed", "receiving_area")

# Senders' rows that may be joined with receivers' rows, one line a pair. With by_id those of the same pseudonym.
pairs_of <- function(records, senders, receivers, by_id, window) {
  key <- function(rows) paste(records$sending_unit[rows], if (by_id) records$transfer_id[rows] else records$receiving_unit[rows],
                              sep = "\r")
  if (by_id) {
    senders <- senders[!is.na(records$transfer_id[senders])]
    receivers <- receivers[!is.na(records$transfer_id[receivers])]
  } else {
    senders <- senders[!is.na(records$receiving_unit[senders])]
  }
  pairs <- merge(data.frame(key = key(senders), s = senders), data.frame(key = key(receivers), r = receivers), by = "key")
  s <- pairs$s
  r <- pairs$r
  apart <- function(field) abs(records[[field]][s] - records[[field]][r])
  differ <- function(field) records[[field]][s] != records[[field]][r]
  left <- apart("departed_at")
  came <- apart("arrived_at")
  asked <- apart("requested_at")
  moved <- !is.na(left) | !is.na(came)
  timed <- moved | !is.na(asked)
  in_window <- ifelse(moved, (!is.na(left) & left <= window) | (!is.na(came) & came <= window), asked <= window)
  same_day <- records$day[s] == records$day[r]
  band <- differ("age_band")
  condition <- differ("condition")
  other_end <- differ("receiving_unit")
  fits <- ifelse(timed, in_window, same_day) & (is.na(other_end) | !other_end)
  if (!by_id) fits <- fits & !(band %in% TRUE) & !(condition %in% TRUE)
  agreeing <- (band %in% FALSE) + (condition %in% FALSE)
  near <- ifelse(moved, pmin(left, came, na.rm = TRUE), ifelse(timed, asked, Inf))
  far <- ifelse(is.na(left) | is.na(came), Inf, pmax(left, came))
  pairs <- data.frame(s, r, only_ends = !timed & !by_id, agreeing, near, far)[fits, ]
  pairs[order(-pairs$agreeing, pairs$near, pairs$far), ]
}

# Takes the pairs class by class, as good ones together. state: "" free, "joined", "doubtful" for each record.
choose_pairs <- function(pairs, state) {
  joined <- NULL
  sure <- pairs[!pairs$only_ends, ]
  class <- match(paste(sure$agreeing, sure$near, sure$far), unique(paste(sure$agreeing, sure$near, sure$far)))
  for (k in unique(class)) {
    open <- sure[class == k & state[sure$s] == "" & state[sure$r] == "", ]
    alone <- !(open$s %in% open$s[duplicated(open$s)]) & !(open$r %in% open$r[duplicated(open$r)])
    joined <- rbind(joined, open[alone, c("s", "r")])
    state[c(open$s, open$r)] <- "doubtful"
    state[c(open$s[alone], open$r[alone])] <- "joined"
  }
  doubtful <- pairs[state[pairs$s] != "joined" & state[pairs$r] != "joined", ]
  state[c(doubtful$s, doubtful$r)] <- "doubtful"
  list(joined = joined, doubtful = nrow(doubtful), state = state)
}

# The two ends' events: of each category as many as the end that lists more, the worst held against the worst. A degree that
# one end does not know is the other's.
events_unite <- function(a, b) {
  out <- lapply(intersect(EVENTS, c(a$category, b$category)), function(category) {
    degrees <- function(events) sort(match(events$harm[events$category == category], HARMS, nomatch = 0L), decreasing = TRUE)
    x <- degrees(a)
    y <- degrees(b)
    n <- max(length(x), length(y))
    harm <- pmax(c(x, rep(0L, n - length(x))), c(y, rep(0L, n - length(y))))
    data.frame(category = rep(category, n), harm = c(NA, HARMS)[harm + 1], stringsAsFactors = FALSE)
  })
  if (length(out)) do.call(rbind, out) else a
}

records_merge <- function(records, s, r) {
  for (field in setdiff(FIELDS, c("events", "recorded_by"))) {
    first <- if (field %in% RECEIVERS_WORD) r else s
    second <- if (field %in% RECEIVERS_WORD) s else r
    records[[field]][s] <- ifelse(is.na(records[[field]][first]), records[[field]][second], records[[field]][first])
  }
  for (i in seq_along(s)) {
    records$events[[s[i]]] <- events_unite(records$events[[s[i]]], records$events[[r[i]]])
    records$events_known[s[i]] <- records$events_known[s[i]] || records$events_known[r[i]]
  }
  records
}

# Joins what both ends logged; returns the records that stay, with how many pairs were joined and how many are in doubt.
ends_join <- function(records, settings) {
  keeper <- ifelse(is.na(records$recorded_by), records$sending_unit, records$recorded_by)
  receivers <- which(records$recorded_by == records$receiving_unit)
  senders <- which(keeper == records$sending_unit)
  state <- rep("", nrow(records))
  pairs <- NULL
  doubtful <- 0
  for (by_id in if (settings$shared_ids) c(TRUE, FALSE) else FALSE) {
    found <- choose_pairs(pairs_of(records, senders[state[senders] == ""], receivers[state[receivers] == ""], by_id,
                                   settings$join_window), state)
    state <- found$state
    pairs <- rbind(pairs, found$joined)
    doubtful <- doubtful + found$doubtful
  }
  logged <- ifelse(seq_along(keeper) %in% receivers, "receiver", ifelse(seq_along(keeper) %in% senders, "sender", ""))
  logged[pairs$s] <- "both"
  before <- records
  if (length(pairs$s)) records <- records_merge(records, pairs$s, pairs$r)
  records$logged <- logged
  records$day <- day_of(records, settings$timezone)
  list(records = records[!seq_along(keeper) %in% pairs$r, , drop = FALSE], joined = length(pairs$s), doubtful = doubtful,
       before = before, pairs = pairs)
}

# ---- What the two logs tell: agreement.csv and recorded.csv ------------------------------------------------------------------

# Cohen's kappa with the standard error of Fleiss, Cohen & Everitt 1969, in the form A + B - C of Fleiss's textbook.
kappa_limits <- function(counts, a) {
  p <- counts / sum(counts)
  row <- rowSums(p)
  column <- colSums(p)
  chance <- sum(row * column)
  if (1 - chance < 1e-12) return(c(NA, NA, NA))
  k <- (sum(diag(p)) - chance) / (1 - chance)
  one <- sum(diag(p) * (1 - (row + column) * (1 - k))^2)
  off <- p * outer(column, row, "+")^2
  two <- (1 - k)^2 * (sum(off) - sum(diag(off)))
  three <- (k - chance * (1 - k))^2
  rest <- one + two - three
  half <- if (rest < 1e-13) 0 else qnorm(1 - a / 2) * sqrt(rest / sum(counts)) / (1 - chance)
  c(k, max(-1, k - half), min(1, k + half))
}

agreement_expected <- function(ends, a) {
  before <- ends$before
  s <- ends$pairs$s
  r <- ends$pairs$r
  rows <- lapply(setdiff(FIELDS, c(TEXTS, UNITS)), function(field) {
    x <- before[[field]][s]
    y <- before[[field]][r]
    if (field == "events") {
      said <- function(rows) vapply(before$events[rows], function(e)
        paste(sort(paste(match(e$category, EVENTS), e$harm)), collapse = ";"), "")
      any_of <- function(rows) vapply(before$events[rows], function(e) any(is.na(e$harm) | e$harm != "near-miss"), NA)
      x <- ifelse(before$events_known[s], said(s), NA)
      y <- ifelse(before$events_known[r], said(r), NA)
      counts <- table(factor(any_of(s)[!is.na(x) & !is.na(y)], c(TRUE, FALSE)),
                      factor(any_of(r)[!is.na(x) & !is.na(y)], c(TRUE, FALSE)))
    } else if (!is.null(CODES[[field]])) {
      counts <- table(factor(x, CODES[[field]]), factor(y, CODES[[field]]))
    } else counts <- NULL
    both <- !is.na(x) & !is.na(y)
    if (!any(both)) return(NULL)
    same <- sum(x[both] == y[both])
    near <- if (field %in% TIMES) sum(abs(x[both] - y[both]) <= 5) else NA
    agreed <- if (is.null(counts)) same / sum(both) else sum(diag(counts)) / sum(counts)
    kappa <- if (is.null(counts)) c(NA, NA, NA) else kappa_limits(matrix(counts, nrow(counts)), a)
    data.frame(field, sender_known = sum(!is.na(x)), receiver_known = sum(!is.na(y)), both = sum(both), equal = same,
               within_5_minutes = near, agreement = agreed, kappa = kappa[1], lower = kappa[2], upper = kappa[3],
               confidence = 1 - a, stringsAsFactors = FALSE)
  })
  do.call(rbind, rows)
}

# Chapman 1951; limits by Sadinle 2009, eq. 3, no lower than what was seen.
recorded_expected <- function(records, a) {
  by_sender <- records$logged %in% c("sender", "both")
  by_receiver <- records$logged %in% c("receiver", "both")
  counted <- records$departed %in% "yes" & records$sending_unit %in% records$sending_unit[by_sender] &
    !is.na(records$receiving_unit) & records$receiving_unit %in% records$receiving_unit[by_receiver]
  units <- c("all", sort(unique(records$sending_unit[counted & (by_sender | by_receiver)]), method = "radix"))
  z <- qnorm(1 - a / 2)
  rows <- lapply(units, function(unit) {
    mine <- counted & (unit == "all" | records$sending_unit == unit)
    n1 <- sum(mine & by_sender)
    n2 <- sum(mine & by_receiver)
    both <- sum(mine & by_sender & by_receiver)
    seen <- n1 + n2 - both
    out <- c(NA, NA, NA, NA, NA, NA)
    if (n1 > 0 && n2 > 0) {
      total <- (n1 + 1) * (n2 + 1) / (both + 1) - 1
      x <- n1 - both + 0.5
      y <- n2 - both + 0.5
      m <- both + 0.5
      wide <- exp(z * sqrt(1 / m + 1 / x + 1 / y + m / (x * y)))
      limits <- seen - 0.5 + x * y / m * c(1 / wide, wide)
      out <- c(total, max(seen, limits[1]), limits[2], seen / total, seen / limits[2], min(1, seen / limits[1]))
    }
    data.frame(unit, sender = n1, receiver = n2, both, total = out[1], lower = out[2], upper = out[3], recorded = out[4],
               recorded_lower = out[5], recorded_upper = out[6], confidence = 1 - a, stringsAsFactors = FALSE)
  })
  do.call(rbind, rows)
}

# The sorted months without lone ones at their ends: one or two, over two months away from the rest, which has four times
# as many a month or more. The fewest go first, the latest of two as few.
without_lone <- function(month) {
  for (k in 1:2) {
    n <- length(month)
    for (far in list(seq(to = n, length.out = k), 1:k)) {
      if (n <= k) next
      rest <- month[-far]
      apart <- max(min(month[far]) - max(rest), min(rest) - max(month[far]))
      if (apart > 2 && length(rest) / (max(rest) - min(rest) + 1) > 4 * k) return(without_lone(rest))
    }
  }
  month
}

# received.csv: rows by keeper and month, of the run of months with the most rows in which no year passes without one, and
# without lone rows at its ends.
received_expected <- function(before) {
  keeper <- ifelse(is.na(before$recorded_by), before$sending_unit, before$recorded_by)
  month <- month_of(before$day)
  if (!length(month)) return(NULL)
  parts <- split(sort(month), cumsum(c(0, diff(sort(month)) > 12)))
  span <- range(without_lone(parts[[which.max(lengths(parts))]]))
  columns <- seq(span[1], span[2])
  rows <- lapply(sort(unique(keeper), method = "radix"), function(unit) {
    n <- tabulate(month[keeper == unit & month >= span[1] & month <= span[2]] - span[1] + 1, length(columns))
    usual <- if (any(n > 0)) median(n[n > 0]) else 0
    data.frame(unit_month = paste(unit, sprintf("%d-%02d", columns %/% 12, columns %% 12 + 1)), rows = n, usual,
               state = ifelse(n == 0, "none", ifelse(n < usual / 2, "few", "usual")), stringsAsFactors = FALSE)
  })
  do.call(rbind, rows)
}

compare_received <- function(want, path) {
  got <- read.csv(path, colClasses = "character", na.strings = character(), check.names = FALSE, encoding = "UTF-8")
  same <- nrow(got) == max(0, nrow(want)) && identical(as.character(want$unit_month), paste(got$unit, got$month))
  check(same, "received.csv: units or months are not those expected")
  if (same && nrow(got))
    check(as.numeric(got$rows) == want$rows & as.numeric(got$usual) == want$usual & got$state == want$state,
          "received.csv: numbers differ")
}

compare_table <- function(want, path) {
  got <- read.csv(path, colClasses = "character", na.strings = character(), check.names = FALSE, encoding = "UTF-8")
  place <- match(got[[1]], want[[1]])
  same <- nrow(got) == max(0, nrow(want)) && !anyNA(place) && (is.null(want) || identical(names(got), names(want)))
  check(same, basename(path), ": rows or columns are not those expected")
  if (!same || is.null(want)) return(invisible())
  want <- want[place, ]
  good <- vapply(names(want)[-1], function(column) number_same(want[[column]], got[[column]]), logical(nrow(want)))
  good <- matrix(good, nrow(want))
  for (i in which(rowSums(!good) > 0)) cat(basename(path), want[[1]][i], names(want)[-1][!good[i, ]], "\n")
  check(rowSums(!good) == 0, basename(path), ": ", sum(rowSums(!good) > 0), " rows differ")
}
