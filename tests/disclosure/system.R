# SPDX-License-Identifier: GPL-3.0-or-later
# What a reader of a release knows, as equations: its counts, those that are shown, and which counts are sums of which. Written
# from the definitions of summary.csv, not from the program.
#
# A count is one of E events, T total, R the rest of a share (T - E), U unknown, B all that were looked at (T + U, or E + U
# where there is no total), of one indicator (of a mix: of one part), unit, period and group.

FIXED <- c("indicator", "measure", "unit", "period", "group")
NUMBERS <- c("events", "total", "estimate", "lower", "upper", "unknown", "if_unknown_none", "if_unknown_all")

summary_read <- function(path) {
  table <- read.csv(path, colClasses = "character", check.names = FALSE, encoding = "UTF-8")
  for (name in NUMBERS) table[[paste0(name, ".n")]] <- as.numeric(ifelse(table[[name]] == "", NA, table[[name]]))
  table
}

# by, code: the breakdown and its group ("", "" for the whole); part: of a mix
groups_split <- function(table) {
  mix <- table$measure == "mix"
  table$part <- table$by <- table$code <- ""
  rest <- table$group
  for (name in unique(table$indicator[mix])) {
    mine <- which(table$indicator == name)
    field <- sub("=.*", "", rest[mine][!grepl(" & ", rest[mine], fixed = TRUE)][1])
    at <- regexpr(paste0("(^| & )", field, "=[^=]*$"), rest[mine])
    table$part[mine] <- sub("^ & ", "", substring(rest[mine], at))
    rest[mine] <- substring(rest[mine], 1, at - 1)
  }
  broken <- rest != "all" & rest != ""
  table$by[broken] <- sub("=.*", "", rest[broken])
  table$code[broken] <- sub("^[^=]*=", "", rest[broken])
  table
}

is_quantile <- function(measure) measure %in% c("p25", "median", "p75", "p90")
counts_total <- function(table) is_quantile(table$measure) | table$measure %in% c("share", "mix") |
  table$measure == "rate" & grepl("transfers$", table$scale)

# Every count once: cell (indicator, unit, period, by, code), kind, part, value, and by which rows it is told: those of the
# same `tells` (of a quantile four rows have one total; of a mix, all parts).
counts_of <- function(truth) {
  truth <- groups_split(truth)
  cell <- paste(truth$indicator, truth$unit, truth$period, truth$by, truth$code, sep = "\t")
  once <- !duplicated(cell)
  take <- function(rows, kind, value, tells, part = "") {
    data.frame(indicator = truth$indicator[rows], unit = truth$unit[rows], period = truth$period[rows], by = truth$by[rows],
               code = truth$code[rows], kind = rep(kind, sum(rows)), part = rep_len(part, sum(rows)), value = value[rows],
               tells = tells[rows], stringsAsFactors = FALSE)
  }
  E <- truth$events.n
  T <- truth$total.n
  U <- truth$unknown.n
  row <- as.character(seq_along(E))
  total <- counts_total(truth)
  share <- truth$measure == "share"
  events <- !is.na(E)
  alone <- truth$measure %in% c("count", "hours", "overlap")
  out <- rbind(take(events, "E", E, row, truth$part[events]), take(total & once, "T", T, cell), take(share, "R", T - E, row),
               take(once, "U", U, cell), take(total & once, "B", T + U, cell), take(alone, "B", E + U, row))
  out$series <- paste(out$indicator, out$kind, out$part, sep = "\t")
  attr(out, "rows") <- list(row = row, cell = cell)
  out
}

# The account's rows used: requests of all periods, those before the span too.
EVER <- "ever"
counts_with_account <- function(counts, used) {
  all <- counts[counts$series == "requests\tE\t" & counts$unit == "all" & counts$by == "", ][1, ]
  all$period <- EVER
  all$value <- used
  all$tells <- "account"
  out <- rbind(counts, all)
  attr(out, "rows") <- attr(counts, "rows")
  out
}

# Which variables of a system a release tells whose rows are shown or not; account: whether it tells the rows used.
system_known <- function(s, shown, account) {
  told <- c(s$rows$row[shown], unique(s$rows$cell[shown]), if (account) "account")
  s$known <- rep(FALSE, length(s$value))
  s$known[s$var[s$tells %in% told]] <- TRUE
  s
}

# Periods as sets of months: year_starts is the audit year's first month; from: the span's first month ("" = no span).
periods_of <- function(periods, year_starts, from) {
  month <- sort(grep("^[0-9]{4}-[0-9]{2}$", periods, value = TRUE))
  number <- as.integer(substr(month, 6, 7))
  year <- as.integer(substr(month, 1, 4)) - (number < year_starts)
  quarter <- sprintf("%d-Q%d", year, (number - year_starts) %% 12 %/% 3 + 1)
  inside <- month >= from
  tile <- function(of, parts, kind) if (length(parts)) list(list(of = of, parts = unique(parts), kind = kind))
  whole <- function(of, kind) { # unless one of them reaches over the span's begin
    if (!any(of[inside] %in% of[!inside])) tile("all", of[inside], kind)
  }
  year <- as.character(year)
  c(unlist(lapply(unique(quarter), function(q) tile(q, month[quarter == q], "months")), FALSE),
    unlist(lapply(unique(year), function(y) tile(y, quarter[year == y], "quarters")), FALSE),
    tile(EVER, quarter, "quarters"), tile(EVER, year, "years"), whole(month, "months"), whole(quarter, "quarters"), whole(year, "years"))
}

# ---- series that are the same, or sums of one another ----

# One number a series: equal for equal vectors, exact. values: cells in rows, series in columns.
weigh <- function(values) {
  set.seed(1)
  colSums(values * sample(2^24, nrow(values)))
}

largest <- function(values) apply(values, 2, max)

matrix_of <- function(counts, cell) {
  cells <- unique(cell)
  series <- unique(counts$series)
  values <- matrix(0, length(cells), length(series), dimnames = list(cells, series))
  values[cbind(match(cell, cells), match(counts$series, series))] <- counts$value
  values
}

# Names of those that stand for others; all-zero ones stand for themselves.
same_series <- function(values) {
  weight <- weigh(values)
  first <- match(weight, weight)
  zero <- weight == 0
  first[zero] <- which(zero)
  stopifnot(all(values == values[, first]))
  setNames(colnames(values)[first], colnames(values))
}

# Pairs among the columns that add up to a third, as a matrix of three names. least: what both must reach somewhere, since
# of series that are hidden in all cells nothing like it can be seen.
pair_sums <- function(values, least) {
  values <- values[, !duplicated(weigh(values)) & largest(values) > 0, drop = FALSE]
  if (ncol(values) < 3) return(NULL)
  weight <- weigh(values)
  large <- which(largest(values) >= least)
  if (length(large) < 2) return(NULL)
  pair <- t(combn(large, 2))
  third <- match(weight[pair[, 1]] + weight[pair[, 2]], weight)
  found <- which(!is.na(third))
  true <- vapply(found, function(k) all(values[, pair[k, 1]] + values[, pair[k, 2]] == values[, third[k]]), NA)
  found <- found[true]
  matrix(colnames(values)[cbind(pair[found, , drop = FALSE], third[found])], ncol = 3)
}

# Series that are the sum of three or more parts of a mix: list of list(of, parts).
part_sums <- function(values, least) {
  part <- strsplit(colnames(values), "\t")
  indicator <- vapply(part, `[`, "", 1)
  is_part <- vapply(part, function(p) length(p) == 3, NA) & largest(values) > 0
  out <- list()
  for (name in unique(indicator[is_part])) {
    parts <- which(is_part & indicator == name)
    fit <- qr(values[, parts, drop = FALSE])
    if (fit$rank < length(parts)) next
    for (s in which(indicator != name & largest(values) >= least)) {
      b <- qr.coef(fit, values[, s])
      if (any(abs(b - round(b)) > 1e-6) || !all(round(b) %in% 0:1) || sum(round(b)) < 3) next
      if (all(values[, parts] %*% round(b) == values[, s]))
        out <- c(out, list(list(of = colnames(values)[s], parts = colnames(values)[parts][round(b) == 1])))
    }
  }
  out
}

# ---- the equations ----

# Variables: counts, equal ones once. Equations: triplets i, j, v of sum(v * x) = 0, and why each holds.
# least: the smallest count that a release shows.
system_of <- function(counts, tilings, least) {
  counts$cell <- paste(counts$unit, counts$period, sep = "\t")
  counts$class <- counts$series
  relations <- list()
  values <- list()
  for (by in unique(counts$by)) {
    mine <- which(counts$by == by & counts$period != EVER)
    values[[paste0(by, "=")]] <- v <- matrix_of(counts[mine, ], paste(counts$code, counts$cell, sep = "\t")[mine])
    counts$class[mine] <- same_series(v)[counts$series[mine]]
    pairs <- pair_sums(v, least)
    relations <- c(relations, lapply(seq_len(NROW(pairs)), function(k) list(by = by, of = pairs[k, 3], parts = pairs[k, 1:2])),
                   lapply(part_sums(v, least), function(r) c(list(by = by), r)))
  }
  ever <- counts$period == EVER
  counts$class[ever] <- counts$class[match(counts$series[ever], counts$series)]
  variable <- twins(counts, values[["="]], least)
  names <- unique(variable)
  counts$var <- match(variable, names)
  value <- counts$value[match(seq_along(names), counts$var)]
  stopifnot(counts$value == value[counts$var])
  row <- rep(FALSE, length(names)) # it stands in a row of the summary
  row[counts$var[counts$kind != "B"]] <- TRUE
  system_build(c(lines_of(counts, tilings), lines_related(counts, relations)), counts, names, value, row)
}

# The name of each count's variable. A group's series that equals one of the whole's in all its cells shares that one's
# variables: all with urgency=planned, and the events of a planned share.
twins <- function(counts, whole, least) {
  variable <- paste(counts$by, counts$code, counts$class, counts$cell, sep = "\t")
  broken <- counts$by != ""
  if (!any(broken)) return(variable)
  edges <- unique(counts$cell[broken])
  rownames(whole) <- sub("^\t", "", rownames(whole))
  whole <- whole[edges, unique(counts$class[!broken]), drop = FALSE]
  whole <- whole[, largest(whole) >= least, drop = FALSE]
  group <- paste(counts$by, counts$code, counts$class, sep = "\t")
  mine <- broken & !duplicated(variable)
  values <- matrix(0, length(edges), length(unique(group[mine])), dimnames = list(edges, unique(group[mine])))
  values[cbind(match(counts$cell[mine], edges), match(group[mine], colnames(values)))] <- counts$value[mine]
  twin <- match(weigh(values), weigh(whole))
  twin <- setNames(colnames(whole)[twin], colnames(values))
  hit <- which(broken & !is.na(twin[group]))
  variable[hit] <- paste("", "", twin[group[hit]], counts$cell[hit], sep = "\t")
  variable
}

# Each line: of (variables), part (what adds up to it), row (parts of one row make one equation), why.
lines_of <- function(counts, tilings) {
  key <- function(...) paste(..., sep = "\t")
  m <- counts[counts$kind %in% c("E", "T", "U"), ] # sums of R and B follow
  id <- key(m$series, m$by, m$code, m$unit, m$period)
  at <- function(series, by, code, unit, period) m$var[match(key(series, by, code, unit, period), id)]
  line <- function(of, part, row, why) {
    keep <- !is.na(of)
    list(of = of[keep], part = part[keep], row = row[keep], why = why)
  }
  group <- key(m$series, m$by, m$code)
  one <- m$unit != "all"
  out <- list(line(at(m$series, m$by, m$code, "all", m$period)[one], m$var[one], key(group, m$period)[one], "units"))
  for (t in tilings) {
    mine <- m$period %in% t$parts
    out <- c(out, list(line(at(m$series, m$by, m$code, m$unit, t$of)[mine], m$var[mine], key(group, m$unit)[mine],
                            sprintf("%s of %s", t$kind, t$of))))
  }
  for (by in setdiff(unique(m$by), "")) {
    mine <- m$by == by
    out <- c(out, list(line(at(m$series, "", "", m$unit, m$period)[mine], m$var[mine],
                            key(m$series, m$unit, m$period)[mine], paste("groups by", by))))
  }
  cell <- key(m$indicator, m$by, m$code, m$unit, m$period)
  part <- m$kind == "E" & m$part != ""
  out <- c(out, list(line(at(key(m$indicator, "T", ""), m$by, m$code, m$unit, m$period)[part], m$var[part], cell[part],
                          "parts of a mix")))
  id <- key(counts$indicator, counts$by, counts$code, counts$unit, counts$period)
  pick <- function(kind, ids) {
    mine <- counts$kind == kind & counts$part == ""
    counts$var[mine][match(ids, id[mine])]
  }
  rest <- id[counts$kind == "R"]
  both <- id[counts$kind == "B"]
  first <- ifelse(is.na(pick("T", both)), pick("E", both), pick("T", both))
  c(out, list(line(rep(pick("T", rest), 2), c(pick("E", rest), pick("R", rest)), rep(rest, 2), "events and the rest"),
              line(rep(pick("B", both), 2), c(first, pick("U", both)), rep(both, 2), "total and unknown")))
}

lines_related <- function(counts, relations) {
  place <- paste(counts$code, counts$unit, counts$period, sep = "\t")
  lapply(relations, function(r) {
    mine <- counts$by == r$by
    of_it <- mine & counts$series == r$of
    parts <- mine & counts$series %in% r$parts
    of <- counts$var[of_it][match(place[parts], place[of_it])]
    keep <- !is.na(of)
    list(of = of[keep], part = counts$var[parts][keep], row = place[parts][keep],
         why = paste(gsub("\t", " ", paste(r$parts, collapse = " + ")), "=", gsub("\t", " ", r$of)))
  })
}

# Triplets of the equations, equal ones once.
system_build <- function(lines, counts, names, value, in_row) {
  number <- rep(seq_along(lines), vapply(lines, function(l) length(l$of), 0L))
  of <- unlist(lapply(lines, `[[`, "of"))
  row <- paste(number, unlist(lapply(lines, `[[`, "row")))
  row <- match(row, unique(row))
  first <- !duplicated(row)
  i <- c(row, row[first])
  j <- c(unlist(lapply(lines, `[[`, "part")), of[first])
  v <- rep(c(1, -1), c(length(row), sum(first)))
  ij <- i * 2^22 + j
  v <- rowsum(v, ij)[, 1] # a variable on both sides goes
  ij <- sort(unique(ij))[v != 0]
  i <- ij %/% 2^22
  j <- ij %% 2^22
  v <- v[v != 0]
  set.seed(3)
  equal <- rowsum(v * runif(length(names))[j], i)[, 1]
  alone <- unique(i)[!duplicated(signif(equal, 12))]
  keep <- i %in% alone
  why <- vapply(lines, `[[`, "", "why")
  list(i = match(i[keep], alone), j = j[keep], v = unname(v[keep]), why = why[number[first]][alone], of = of[first][alone],
       names = names, value = value, in_row = in_row, var = counts$var, tells = counts$tells,
       rows = attr(counts, "rows"))
}
