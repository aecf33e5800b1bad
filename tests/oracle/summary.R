#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
# The oracle: works summary.csv out afresh from canonical logs, in base R and from the written definitions alone, and
# compares every row and column with what the program wrote.
#
#   Rscript tests/oracle/summary.R [--network DIR] [--period P] [--confidence C] [--catalogue FILE] [--manifest FILE] [--pack DIR]
#                                  (--summary FILE | --write FILE) LOG...
#
# Ends with `N passed, N failed`: one test for each expected row (all its columns), for the header, the row set, the order,
# the form of the numbers, with --manifest for each part of the account, with --pack for the rows of its agreement.csv,
# recorded.csv and received.csv. --write writes what it expects.

here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE)[1]))
source(file.path(here, "record.R"))
source(file.path(here, "ends.R"))
source(file.path(here, "limits.R"))

COLUMNS <- c("indicator", "measure", "unit", "period", "group", "events", "total", "estimate", "lower", "upper", "confidence",
             "method", "unknown", "if_unknown_none", "if_unknown_all", "scale")
KEYS <- COLUMNS[1:5]
NUMBERS <- c("events", "total", "estimate", "lower", "upper", "confidence", "unknown", "if_unknown_none", "if_unknown_all")
QUANTILES <- c(p25 = 25, median = 50, p75 = 75, p90 = 90)
METHODS <- c(share = "wilson", count = "exact-poisson", rate = "fay-feuer", hours = "fay-feuer", quantile = "order-statistic",
             mix = "goodman", overlap = "block-linearised")

options_read <- function(words) {
  out <- list(confidence = "0.95", catalogue = file.path(here, "../../src/measure/indicators.csv"), logs = character())
  while (length(words)) {
    if (startsWith(words[1], "--")) {
      out[[substring(words[1], 3)]] <- words[2]
      words <- words[-(1:2)]
    } else {
      out$logs <- c(out$logs, words[1])
      words <- words[-1]
    }
  }
  folders <- dir.exists(out$logs)
  found <- lapply(out$logs[folders], function(d) sort(list.files(d, "[.]csv$", recursive = TRUE, full.names = TRUE), method = "radix"))
  logs <- as.list(out$logs)
  logs[folders] <- found
  out$logs <- unlist(logs)
  out
}

# The built-in catalogue; a network's own rows override by name, in the place of the row overridden, or are added at the end.
catalogue_read <- function(path, network) {
  read <- function(file) read.csv(file, colClasses = "character", na.strings = character(), check.names = FALSE)
  built_in <- read(path)
  own <- if (is.null(network)) "" else file.path(network, "indicators.csv")
  if (!file.exists(own)) return(built_in)
  added <- read(own)
  added[setdiff(names(built_in), names(added))] <- ""
  known <- match(added$indicator, built_in$indicator)
  built_in[known[!is.na(known)], ] <- added[!is.na(known), names(built_in)]
  rbind(built_in, added[is.na(known), names(built_in)])
}

# ---- Conditions: R's logic is the three-valued one that the definitions ask for ---------------------------------------------

terms_of <- function(condition) {
  words <- trimws(strsplit(condition, "&", fixed = TRUE)[[1]])
  lapply(words, function(word) {
    op <- if (grepl("!=", word, fixed = TRUE)) "!=" else "="
    at <- regexpr(op, word, fixed = TRUE)
    list(field = trimws(substr(word, 1, at - 1)), negated = op == "!=",
         codes = trimws(strsplit(substring(word, at + nchar(op)), "|", fixed = TRUE)[[1]]))
  })
}

# How many adverse events of each record have one of the codes; NA where nobody wrote down whether there were any.
events_matching <- function(records, codes) {
  count <- vapply(records$events, function(e)
    sum((is.na(e$harm) | e$harm != "near-miss") & (codes[1] == "any" | e$category %in% codes)), 0)
  ifelse(records$events_known, count, NA)
}

condition_holds <- function(records, condition) {
  out <- rep(TRUE, nrow(records))
  if (condition %in% c("", "all")) return(out)
  for (term in terms_of(condition)) {
    truth <- if (term$field == "event") {
      events_matching(records, term$codes) > 0
    } else {
      value <- records[[term$field]]
      if (is.null(value)) stop("no field ", term$field)
      ifelse(is.na(value), NA, value %in% term$codes)
    }
    out <- out & (if (term$negated) !truth else truth)
  }
  out
}

# ---- Periods: months counted from year 0; an audit year is twelve of them from its first month, a quarter three ------------

month_of <- function(day) {
  date <- as.POSIXlt(as.Date(day, origin = "1970-01-01"))
  (date$year + 1900) * 12 + date$mon
}

month_start <- function(month) as.numeric(as.Date(sprintf("%04d-%02d-01", month %/% 12, month %% 12 + 1)))

period_months <- function(name, year_starts) {
  ends <- strsplit(name, "..", fixed = TRUE)[[1]]
  months <- vapply(ends, function(end) {
    year <- as.numeric(substr(end, 1, 4))
    rest <- substring(end, 6)
    if (rest == "") year * 12 + year_starts - 1 + c(0, 11)
    else if (startsWith(rest, "Q")) year * 12 + year_starts - 1 + (as.numeric(substring(rest, 2)) - 1) * 3 + c(0, 2)
    else rep(year * 12 + as.numeric(rest) - 1, 2)
  }, c(0, 0))
  c(min(months), max(months))
}

# All periods in order, with first and last month: `all` (the asked span, else everything), years, quarters, months. Without a
# record there is `all` alone.
periods_of <- function(days, year_starts, span) {
  if (!length(days)) return(data.frame(name = "all", kind = "all", from = c(span, 0)[1], to = c(span[2], 0)[1]))
  months <- range(month_of(days))
  shift <- year_starts - 1
  years <- seq((months[1] - shift) %/% 12, (months[2] - shift) %/% 12)
  quarters <- seq((months[1] - shift) %/% 3, (months[2] - shift) %/% 3)
  single <- seq(months[1], months[2])
  whole <- if (is.null(span)) months else span
  data.frame(name = c("all", sprintf("%04d", years), sprintf("%04d-Q%d", quarters %/% 4, quarters %% 4 + 1),
                      sprintf("%04d-%02d", single %/% 12, single %% 12 + 1)),
             kind = rep(c("all", "year", "quarter", "month"), c(1, length(years), length(quarters), length(single))),
             from = c(whole[1], years * 12 + shift, quarters * 3 + shift, single),
             to = c(whole[2], years * 12 + shift + 11, quarters * 3 + shift + 2, single), stringsAsFactors = FALSE)
}

# Weeks of a period within the days that the records (or the asked span) cover.
weeks_in <- function(period, window) {
  days <- min(window[2], month_start(period$to + 1) - 1) - max(window[1], month_start(period$from)) + 1
  max(0, days) / 7
}

# ---- Cells: the records of each unit, period and breakdown -----------------------------------------------------------------

codes_of <- function(field, values) {
  known <- c(CODES, DERIVED_CODES)[[field]]
  if (is.null(known)) sort(unique(values[!is.na(values)]), method = "radix") else known
}

# Groups of one breakdown field: the codes that occur in the used records, in the order of the code list, then unknown.
breakdown_of <- function(field, records) {
  values <- records[[field]]
  present <- Filter(function(code) code %in% values, codes_of(field, values))
  groups <- lapply(present, function(code) which(values == code))
  if (length(present)) names(groups) <- paste0(field, "=", present)
  if (anyNA(values)) groups[[paste0(field, "=unknown")]] <- which(is.na(values))
  groups
}

# Every combination of unit and period, in the order of the rows, with its records.
places_of <- function(records, periods) {
  units <- c("all", sort(unique(records$sending_unit), method = "radix"))
  month <- month_of(records$day)
  out <- list()
  for (unit in units) for (p in seq_len(nrow(periods))) {
    period <- periods[p, ]
    if (unit != "all" && period$kind == "month") next
    rows <- which((unit == "all" | records$sending_unit == unit) & month >= period$from & month <= period$to)
    out[[length(out) + 1]] <- list(unit = unit, period = period, rows = rows, broken = unit == "all" || period$kind == "all")
  }
  out
}

# ---- Measures: what each record gives, then what a cell of records gives ----------------------------------------------------

scale_of <- function(indicator) {
  switch(indicator$measure, share = , mix = , overlap = "proportion", quantile = "minutes", hours = "hours", count = "count",
         rate = exposure_of(indicator$per)$scale)
}

exposure_of <- function(per) {
  number <- as.numeric(sub(" .*$", "", per))
  what <- sub("^[^ ]* ", "", per)
  if (what == "week") return(list(number = number, kind = "week", scale = if (number == 1) "per week" else paste("per", number, "weeks")))
  written <- paste("per", sub(" .*$", "", per))
  if (what == "transfers") return(list(number = number, kind = "transfers", scale = paste(written, "transfers")))
  if (what == "distance_km") return(list(number = number, kind = "distance_km", scale = paste(written, "km")))
  list(number = number, kind = "hours", interval = sub("^hours ", "", what), scale = paste(written, "hours"))
}

# For each record: among (TRUE, FALSE, NA), the value that the measure collects, and whether it counts as unknown.
collect <- function(indicator, records, caps) {
  among <- condition_holds(records, indicator$among)
  value <- switch(indicator$measure,
    share = as.numeric(condition_holds(records, indicator$events)),
    count = rep(1, nrow(records)),
    quantile = , hours = , overlap = interval(records, indicator$events, caps),
    mix = if (indicator$events == "event") ifelse(records$events_known, 1, NA) else
      match(records[[indicator$events]], codes_of(indicator$events, records[[indicator$events]])),
    rate = rate_events(indicator, records))
  exposure <- if (indicator$measure == "rate") rate_exposure(indicator, records, caps) else rep(1, nrow(records))
  counted <- among & !is.na(value) & !is.na(exposure)
  counted <- !is.na(counted) & counted
  list(value = value, exposure = exposure, counted = counted, unknown = !counted & (is.na(among) | among))
}

rate_events <- function(indicator, records) {
  if (indicator$events == "") return(rep(1, nrow(records)))
  holds <- condition_holds(records, indicator$events)
  terms <- Filter(function(term) term$field == "event" && !term$negated, terms_of(indicator$events))
  number <- if (length(terms)) events_matching(records, terms[[1]]$codes) else 1
  ifelse(is.na(holds), NA, ifelse(holds, number, 0))
}

rate_exposure <- function(indicator, records, caps) {
  per <- exposure_of(indicator$per)
  switch(per$kind, transfers = , week = rep(1, nrow(records)), distance_km = records$distance_km,
         hours = interval(records, per$interval, caps) / 60)
}

# One or more lines of: events, total, estimate, lower, upper, unknown, if_unknown_none, if_unknown_all.
measure_cell <- function(indicator, got, rows, place, context) {
  a <- context$a
  used <- rows[got$counted[rows]]
  unknown <- sum(got$unknown[rows])
  line <- function(events, total, limits, bounds = c(NA, NA)) c(events, total, limits, unknown, bounds)
  n <- length(used)
  value <- got$value[used]
  switch(indicator$measure,
    share = {
      x <- sum(value)
      all <- n + unknown
      line(x, n, wilson(x, n, a), if (all == 0) c(NA, NA) else c(x, x + unknown) / all)
    },
    count = line(n, NA, garwood(n, a)),
    quantile = t(vapply(QUANTILES, function(q) line(NA, n, order_statistics(value, q, a)), numeric(8))),
    hours = line(n, NA, fay_feuer(value / 60, a, 0)),
    rate = line(sum(value), rate_total(indicator, got, used, place, context),
                rate_limits(indicator, value, rate_total(indicator, got, used, place, context), a)),
    mix = {
      counts <- mix_counts(indicator, got, used, context)
      limits <- goodman(counts, a)
      t(vapply(seq_along(counts), function(i) line(counts[i], sum(counts), limits[, i]), numeric(8)))
    },
    overlap = line(n, NA, overlap_limits(indicator, used, context)))
}

rate_total <- function(indicator, got, used, place, context) {
  if (exposure_of(indicator$per)$kind == "week") weeks_in(place$period, context$window) else sum(got$exposure[used])
}

rate_limits <- function(indicator, value, total, a) {
  per <- exposure_of(indicator$per)
  if (total == 0) return(c(NA, NA, NA))
  plain <- per$kind == "week" && indicator$events == ""
  (if (plain) garwood(length(value), a) else fay_feuer(value, a, 1)) / total * per$number
}

mix_counts <- function(indicator, got, used, context) {
  if (indicator$events == "event") {
    listed <- do.call(rbind, context$records$events[used])
    listed <- listed[is.na(listed$harm) | listed$harm != "near-miss", ]
    return(as.numeric(table(factor(listed$category, levels = EVENTS))))
  }
  codes <- codes_of(indicator$events, context$records[[indicator$events]])
  tabulate(got$value[used], length(codes))
}

# Hours with one or more, and two or more, of each unit's teams away, summed over the units week by week.
overlap_limits <- function(indicator, used, context) {
  ends <- strsplit(indicator$events, "..", fixed = TRUE)[[1]]
  records <- context$records
  from <- records[[ends[1]]][used]
  to <- records[[ends[2]]][used]
  if (length(used) == 0) return(c(NA, NA, NA))
  first <- findInterval(min(from), context$mondays)
  last <- max(first, findInterval(max(to), context$mondays, left.open = TRUE))
  bounds <- context$mondays[first:(last + 1)]
  x <- y <- numeric(last - first + 1)
  for (unit in unique(records$sending_unit[used])) {
    mine <- records$sending_unit[used] == unit
    points <- sort(unique(c(from[mine], to[mine], bounds)))
    away <- findInterval(points, sort(from[mine])) - findInterval(points, sort(to[mine]))
    week <- factor(findInterval(head(points, -1), bounds), levels = seq_along(x))
    hours <- diff(points) / 60
    away <- head(away, -1)
    x <- x + as.numeric(tapply(hours * (away >= 1), week, sum))
    y <- y + as.numeric(tapply(hours * (away >= 2), week, sum))
  }
  block_ratio(x, y, context$a)
}

# Local midnights of all Mondays about the records' stamps.
mondays_of <- function(records, zone) {
  if (!nrow(records)) return(numeric())
  stamps <- range(unlist(records[TIMES]), records$day * 1440, na.rm = TRUE)
  days <- seq(floor(stamps[1] / 1440) - 15, ceiling(stamps[2] / 1440) + 15)
  wall <- days[(days + 3) %% 7 == 0] * 1440
  instants <- wall_instants(wall, zone)[, 1]
  gap <- is.na(instants)
  instants[gap] <- (wall - zone_offset(wall - 1560, zone))[gap]
  instants
}

# ---- All rows ---------------------------------------------------------------------------------------------------------------

indicator_rows <- function(indicator, places, context) {
  got <- collect(indicator, context$records, context$caps)
  fields <- strsplit(indicator$by, "|", fixed = TRUE)[[1]]
  breakdowns <- unlist(lapply(fields, function(f) context$breakdowns(f)), recursive = FALSE)
  parts <- NULL
  if (indicator$measure == "mix") {
    codes <- if (indicator$events == "event") EVENTS else codes_of(indicator$events, context$records[[indicator$events]])
    if (!length(codes)) return(NULL) # a mix over units of which none occurs has no parts
    parts <- paste0(indicator$events, "=", codes)
  }
  measures <- if (indicator$measure == "quantile") names(QUANTILES) else indicator$measure
  out <- list()
  for (place in places) {
    groups <- c(list(all = place$rows), if (place$broken) lapply(breakdowns, function(g) g[g %in% place$rows]))
    for (name in names(groups)) {
      numbers <- rbind(measure_cell(indicator, got, groups[[name]], place, context))
      label <- if (is.null(parts)) name else if (name == "all") parts else paste(name, "&", parts)
      out[[length(out) + 1]] <- list(keys = cbind(measures, place$unit, place$period$name, label), numbers = unname(numbers))
    }
  }
  keys <- do.call(rbind, lapply(out, `[[`, "keys"))
  numbers <- do.call(rbind, lapply(out, `[[`, "numbers"))
  method <- METHODS[[indicator$measure]]
  if (indicator$measure == "rate" && indicator$events == "" && exposure_of(indicator$per)$kind == "week") method <- "exact-poisson"
  data.frame(indicator = indicator$indicator, measure = keys[, 1], unit = keys[, 2], period = keys[, 3], group = keys[, 4],
             events = numbers[, 1], total = numbers[, 2], estimate = numbers[, 3], lower = numbers[, 4], upper = numbers[, 5],
             confidence = 1 - context$a, method = method, unknown = numbers[, 6], if_unknown_none = numbers[, 7],
             if_unknown_all = numbers[, 8], scale = scale_of(indicator), stringsAsFactors = FALSE)
}

# What items.csv must hold: each term of these two shares as a share of its own, over the whole span.
items_rows <- function(catalogue, places, context) {
  places <- Filter(function(place) place$period$kind == "all", places)
  rows <- NULL
  for (i in which(catalogue$indicator %in% c("equipment_ready_share", "papers_complete_share") & catalogue$measure == "share")) {
    for (term in trimws(strsplit(catalogue$events[i], "&", fixed = TRUE)[[1]])) {
      one <- catalogue[i, ]
      one$events <- term
      one$by <- ""
      got <- indicator_rows(one, places, context)
      rows <- rbind(rows, cbind(item = paste(one$indicator, terms_of(term)[[1]]$field, got$unit),
                                got[c("events", "total", "estimate", "lower", "upper", "confidence", "unknown")]))
    }
  }
  rows
}

compare_items <- function(want, path) {
  got <- read.csv(path, colClasses = "character", na.strings = character(), check.names = FALSE, encoding = "UTF-8")
  check(identical(paste(got$indicator, got$field, got$unit), want$item), "items.csv: rows are not those expected")
  if (nrow(got) != nrow(want)) return(invisible())
  for (column in names(want)[-1])
    check(number_same(want[[column]], got[[column]]), "items.csv: ", column, " differs")
}

# What summary.csv must hold, and the account of rows.
expected <- function(options) {
  settings <- settings_read(options$network)
  read <- records_read(options$logs, settings)
  records <- derive(read$records, settings)
  keep <- condition_holds(records, settings$include)
  span <- if (is.null(options$period)) NULL else period_months(options$period, settings$year_starts)
  if (!is.null(span)) keep <- keep & month_of(records$day) <= span[2]
  keep <- !is.na(keep) & keep
  records <- records[keep, ]
  account <- c(read$account, left_out = sum(!keep), used = sum(keep))
  window <- if (nrow(records)) range(records$day) else c(Inf, -Inf)
  if (!is.null(span)) window <- c(min(window[1], month_start(span[1])), month_start(span[2] + 1) - 1)
  seen <- list()
  breakdowns <- function(field) {
    if (is.null(seen[[field]])) seen[[field]] <<- breakdown_of(field, records)
    seen[[field]]
  }
  context <- list(records = records, caps = settings$caps, a = 1 - as.numeric(options$confidence), window = window,
                  mondays = mondays_of(records, settings$timezone), breakdowns = breakdowns)
  catalogue <- catalogue_read(options$catalogue, options$network)
  places <- places_of(records, periods_of(records$day, settings$year_starts, span))
  rows <- lapply(seq_len(nrow(catalogue)), function(i) indicator_rows(catalogue[i, ], places, context))
  list(rows = do.call(rbind, rows), items = items_rows(catalogue, places, context), account = account, ends = read$ends, records = records)
}

# ---- Comparison -------------------------------------------------------------------------------------------------------------

RELATIVE <- 1e-9
ABSOLUTE <- 1e-12
SHOWN <- 20

tests <- new.env()
tests$passed <- tests$failed <- 0

check <- function(good, ...) {
  tests$passed <- tests$passed + sum(good)
  tests$failed <- tests$failed + sum(!good)
  if (!all(good)) cat(..., "\n", sep = "")
}

number_same <- function(want, got) {
  text <- got
  got <- suppressWarnings(as.numeric(got))
  ifelse(is.na(want), text == "", !is.na(got) & abs(got - want) <= pmax(RELATIVE * abs(want), ABSOLUTE))
}

key_of <- function(rows) do.call(paste, c(rows[KEYS], sep = " / "))

compare <- function(want, path) {
  got <- read.csv(path, colClasses = "character", na.strings = character(), check.names = FALSE, encoding = "UTF-8")
  check(identical(names(got), COLUMNS), "columns: ", paste(names(got), collapse = ","))
  if (!all(COLUMNS %in% names(got))) return(invisible())
  want_key <- key_of(want)
  got_key <- key_of(got)
  extra <- setdiff(got_key, want_key)
  missing <- setdiff(want_key, got_key)
  check(!anyDuplicated(got_key), "a row twice: ", got_key[anyDuplicated(got_key)])
  check(!length(extra), length(extra), " rows too many, such as\n  ", paste(head(extra, SHOWN), collapse = "\n  "))
  check(!length(missing), length(missing), " rows missing, such as\n  ", paste(head(missing, SHOWN), collapse = "\n  "))
  common <- intersect(want_key, got_key)
  order_want <- want_key[want_key %in% common]
  order_got <- unique(got_key[got_key %in% common])
  at <- which(order_want != order_got)[1]
  check(is.na(at), "order: row ", at, " of the common ones is ", order_got[at], ", not ", order_want[at])
  check_form(got)
  compare_values(want[match(common, want_key), ], got[match(common, got_key), ], common)
  tests$failed <- tests$failed + length(missing)
}

# Numbers have a point and at most 12 significant digits; counts are whole.
check_form <- function(got) {
  cells <- unlist(got[NUMBERS])
  cells <- cells[cells != ""]
  digits <- sub("^0+", "", gsub("[-.]", "", sub("[eE].*$", "", cells)))
  bad <- !grepl("^-?\\d+(\\.\\d+)?([eE][-+]?\\d+)?$", cells) | nchar(digits) > 12 & !grepl("^-?\\d+$", cells)
  check(!any(bad), sum(bad), " numbers of the wrong form, such as ", paste(head(unique(cells[bad]), 5), collapse = ", "))
  counts <- unlist(got[c("events", "unknown")])
  check(all(grepl("^\\d*$", counts)), "counts that are not whole numbers")
}

compare_values <- function(want, got, keys) {
  good <- vapply(COLUMNS[-(1:5)], function(column) {
    if (column %in% NUMBERS) number_same(want[[column]], got[[column]]) else want[[column]] == got[[column]]
  }, logical(length(keys)))
  dim(good) <- c(length(keys), length(COLUMNS) - 5)
  colnames(good) <- COLUMNS[-(1:5)]
  wrong <- which(rowSums(!good) > 0)
  tests$passed <- tests$passed + length(keys) - length(wrong)
  tests$failed <- tests$failed + length(wrong)
  if (!length(wrong)) return(invisible())
  cat(length(wrong), "rows differ; by indicator, measure and column:\n")
  where <- which(!good, arr.ind = TRUE)
  kinds <- table(paste(want$indicator[where[, 1]], want$measure[where[, 1]], colnames(good)[where[, 2]]))
  kinds <- sort(kinds, decreasing = TRUE)
  cat(sprintf("  %5d  %s\n", head(kinds, SHOWN), names(head(kinds, SHOWN))), sep = "")
  shown <- unlist(lapply(split(wrong, want$indicator[wrong]), head, 2))
  for (i in head(shown, SHOWN)) {
    cat("  ", keys[i], "\n", sep = "")
    for (column in colnames(good)[!good[i, ]])
      cat(sprintf("      %-16s expected %s, found %s\n", column, printed(want[[column]][i]), got[[column]][i]))
  }
}

compare_account <- function(account, path) {
  text <- paste(readLines(path, warn = FALSE), collapse = " ")
  part <- sub("^.*\"account\"[[:space:]]*:[[:space:]]*\\{([^}]*)\\}.*$", "\\1", text)
  for (name in names(account)) {
    found <- if (grepl(paste0("\"", name, "\""), part))
      as.numeric(sub(paste0("^.*\"", name, "\"[[:space:]]*:[[:space:]]*(\\d+).*$"), "\\1", part)) else NA
    check(isTRUE(found == account[[name]]), "account: ", name, " expected ", account[[name]], ", found ", found)
  }
}

printed <- function(x) if (is.numeric(x)) ifelse(is.na(x), "", format(x, digits = 12, trim = TRUE)) else x

write_rows <- function(rows, path) {
  for (column in NUMBERS) rows[[column]] <- vapply(rows[[column]], printed, "")
  write.csv(rows[COLUMNS], path, row.names = FALSE, quote = FALSE, eol = "\n")
}

main <- function() {
  options <- options_read(commandArgs(trailingOnly = TRUE))
  want <- expected(options)
  if (!is.null(options$write)) {
    write_rows(want$rows, options$write)
    cat(paste(names(want$account), want$account, collapse = ", "), "\n", sep = "")
    return(invisible())
  }
  compare(want$rows, options$summary)
  if (!is.null(options$pack)) {
    a <- 1 - as.numeric(options$confidence)
    compare_received(received_expected(want$ends$before), file.path(options$pack, "received.csv"))
    compare_items(want$items, file.path(options$pack, "items.csv"))
    compare_table(agreement_expected(want$ends, a), file.path(options$pack, "agreement.csv"))
    compare_table(recorded_expected(want$records, a), file.path(options$pack, "recorded.csv"))
  }
  if (!is.null(options$manifest)) compare_account(want$account, options$manifest)
  cat(tests$passed, " passed, ", tests$failed, " failed\n", sep = "")
  if (tests$failed > 0) quit(status = 1)
}

# Whether the test at i is still a signal if its p is the worst one, all others as they are.
still_signal <- function(p, i, worst) !is.na(worst) && p.adjust(replace(p, i, worst), "BH")[i] <= 0.05

if (!interactive() && !exists("ORACLE_PART")) main() # comparisons.R takes the functions alone
