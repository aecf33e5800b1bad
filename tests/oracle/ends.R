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
