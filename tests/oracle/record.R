# SPDX-License-Identifier: GPL-3.0-or-later
# Canonical logs read and fields derived, from the definitions of the record alone: the reading half of the oracle. It shares
# no code with the program, and must never be adjusted to it: where the two differ, the written definitions decide.

YES_NO <- c("yes", "no")
WITH_NOT_NEEDED <- c("yes", "no", "not-needed")
AREAS <- c("emergency-department", "intensive-care", "high-dependency", "theatre", "ward", "other")
DEPARTED <- c("completed", "diverted", "turned-back", "died-in-transit")
NOT_DEPARTED <- c("stood-down", "died-before-departure")
REASON_GROUP <- c("specialist-care" = "clinical", "higher-level-care" = "clinical", "other-clinical" = "clinical",
                  "bed-capacity" = "non-clinical", "staffing" = "non-clinical", "other-non-clinical" = "non-clinical",
                  "repatriation" = "repatriation")
HARMS <- c("near-miss", "none", "low", "moderate", "severe", "death")
EVENTS <- c("airway", "respiratory", "cardiovascular", "neurological", "line-or-tube", "medication", "equipment-power",
            "equipment-oxygen", "equipment-ventilator", "equipment-monitor", "equipment-infusion", "equipment-trolley",
            "vehicle-breakdown", "vehicle-collision", "delay", "communication", "destination-not-ready", "staff-injury",
            "other")

CODES <- list(
  sending_area = AREAS, receiving_area = AREAS,
  urgency = c("time-critical", "urgent", "planned"),
  reason = names(REASON_GROUP),
  condition = c("head-injury", "other-neurosurgical", "stroke", "spinal-injury", "major-trauma", "burns", "vascular",
                "cardiac", "cardiac-arrest", "respiratory", "sepsis", "gastrointestinal", "liver-or-renal", "obstetric",
                "poisoning", "other"),
  age_band = c("0-15", "16-39", "40-59", "60-74", "75-89", "90+"),
  sex = c("female", "male", "other"),
  care_level = c("0", "1", "2", "3"),
  ventilated = YES_NO, vasoactive = YES_NO,
  delay_reason = c("none", "no-vehicle", "no-team", "no-bed", "patient-unstable", "papers", "other"),
  outcome = c(DEPARTED, NOT_DEPARTED),
  escort_grade = c("consultant", "senior-trainee", "junior-trainee", "specialty-doctor", "advanced-practitioner", "nurse",
                   "paramedic", "other", "none"),
  escort_specialty = c("anaesthesia", "intensive-care", "emergency-medicine", "other"),
  second_escort = c("doctor", "advanced-practitioner", "nurse", "operating-department-practitioner", "paramedic", "other",
                    "none"),
  escort_trained = YES_NO, airway_skilled = YES_NO,
  team = c("dedicated", "sending-unit", "receiving-unit", "ambulance-service", "other"),
  base_cover = c("maintained", "reduced", "uncovered"),
  indemnity_confirmed = YES_NO,
  vehicle = c("road-dedicated", "road-front-line", "patient-transport", "helicopter", "fixed-wing", "other"),
  mains_power = WITH_NOT_NEEDED, secured_trolley = WITH_NOT_NEEDED, capnography = WITH_NOT_NEEDED,
  oxygen_reserve = WITH_NOT_NEEDED, monitoring = WITH_NOT_NEEDED,
  observations_charted = YES_NO, checklist_done = YES_NO, handover_signed = YES_NO)

PHASES <- c("requested_at", "accepted_at", "team_ready_at", "at_patient_at", "departed_at", "arrived_at", "handed_over_at",
            "returned_at")
TIMES <- c(PHASES, "ended_at")
UNITS <- c("recorded_by", "sending_unit", "receiving_unit")
TEXTS <- c("transfer_id", "episode_id")
FIELDS <- c(TEXTS, UNITS, names(CODES), "transfer_date", TIMES, "events", "distance_km")

WEEKDAYS <- c("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

DERIVED_CODES <- list(
  ended = c("departed", NOT_DEPARTED), departed = YES_NO, reason_group = unique(unname(REASON_GROUP)),
  out_of_hours = YES_NO, adverse_event = YES_NO, near_miss = YES_NO, harmed = YES_NO, worst_harm = HARMS[-1],
  has_target = YES_NO, departed_in_time = YES_NO, requested_hour = as.character(0:23), departed_hour = as.character(0:23),
  requested_weekday = WEEKDAYS, departed_weekday = WEEKDAYS)

# ---- Settings -------------------------------------------------------------------------------------------------------------

ini_read <- function(path) {
  lines <- if (file.exists(path)) trimws(readLines(path, warn = FALSE, encoding = "UTF-8")) else character()
  section <- ""
  out <- list()
  for (line in lines[lines != "" & !startsWith(lines, "#")]) {
    if (grepl("^\\[.*\\]$", line)) {
      section <- substr(line, 2, nchar(line) - 1)
      if (is.null(out[[section]])) out[[section]] <- list()
    } else {
      key <- trimws(sub("=.*$", "", line))
      out[[section]][[key]] <- trimws(sub("^[^=]*=", "", line))
    }
  }
  out
}

clock_minutes <- function(text) {
  parts <- as.integer(strsplit(text, ":", fixed = TRUE)[[1]])
  parts[1] * 60 + parts[2]
}

list_of <- function(text) {
  parts <- trimws(strsplit(text, ";", fixed = TRUE)[[1]])
  parts[parts != ""]
}

settings_read <- function(network) {
  ini <- if (is.null(network)) list() else ini_read(file.path(network, "network.ini"))
  get <- function(key, default) if (is.null(ini$network[[key]])) default else ini$network[[key]]
  targets <- ini$targets[setdiff(names(ini$targets), "source")]
  list(timezone = get("timezone", "UTC"), year_starts = as.integer(get("year_starts", "1")),
       day_starts = clock_minutes(get("day_starts", "08:00")), day_ends = clock_minutes(get("day_ends", "20:00")),
       weekend = match(list_of(get("weekend", "sat;sun")), c("sun", "mon", "tue", "wed", "thu", "fri", "sat")) - 1,
       holidays = as.Date(list_of(get("holidays", ""))), include = get("include", ""),
       shared_ids = get("shared_ids", "no") == "yes", join_window = as.numeric(get("join_window", "120")),
       targets = vapply(targets, as.numeric, 0), caps = vapply(as.list(ini$caps), as.numeric, 0),
       logs = ini[grep("^log ", names(ini))])
}

# The section [log PATTERN] that reads a file: the first whose pattern matches the base name.
log_settings <- function(settings, path) {
  for (name in names(settings$logs))
    if (grepl(glob2rx(trimws(substring(name, 5))), basename(path))) return(settings$logs[[name]])
  list()
}

# ---- Bytes to cells -------------------------------------------------------------------------------------------------------

# Records of an RFC 4180 file; a line break between quotes belongs to its cell.
csv_records <- function(path) {
  bytes <- readBin(path, "raw", file.size(path))
  if (length(bytes) > 2 && all(bytes[1:3] == as.raw(c(0xef, 0xbb, 0xbf)))) bytes <- bytes[-(1:3)]
  text <- rawToChar(bytes)
  Encoding(text) <- "UTF-8"
  lines <- strsplit(text, "\r\n|\n|\r", perl = TRUE)[[1]]
  quotes <- nchar(gsub("[^\"]", "", lines))
  open <- cumsum(quotes) %% 2
  start <- c(TRUE, head(open, -1) == 0)
  records <- if (all(start)) lines else vapply(split(lines, cumsum(start)), paste, "", collapse = "\n")
  unname(records[trimws(records) != ""])
}

csv_cells <- function(records) {
  cells <- strsplit(paste0(records, ","), ",", fixed = TRUE)
  for (i in grep("\"", records, fixed = TRUE))
    cells[[i]] <- scan(text = records[i], what = "", sep = ",", quote = "\"", quiet = TRUE, blank.lines.skip = FALSE)
  cells
}

alike <- function(x) gsub("[ _-]", "-", tolower(trimws(x)))

# One log: a matrix of cells under the names of the record, and how many rows were read and put aside at once.
log_read <- function(path) {
  cells <- csv_cells(csv_records(path))
  header <- gsub("-", "_", alike(cells[[1]]))
  stopifnot("a column that no field names" = all(header %in% FIELDS), "a column twice" = !anyDuplicated(header))
  rows <- cells[-1]
  whole <- lengths(rows) == length(header)
  heading <- whole & vapply(rows, function(r) length(r) == length(header) && all(gsub("-", "_", alike(r)) == header), NA)
  table <- matrix(NA_character_, sum(whole & !heading), length(FIELDS), dimnames = list(NULL, FIELDS))
  if (nrow(table)) table[, header] <- trimws(do.call(rbind, rows[whole & !heading]))
  table[!is.na(table) & table == ""] <- NA
  list(table = table, read = length(rows))
}

# ---- Time -----------------------------------------------------------------------------------------------------------------

# Minutes that a zone is ahead of UTC at these instants (minutes since 1970 in UTC), from R's zone database.
zone_offset <- function(utc, zone) {
  out <- rep(NA_real_, length(utc))
  known <- !is.na(utc)
  if (!any(known)) return(out)
  at <- unique(utc[known])
  wall <- format(as.POSIXct(at * 60, origin = "1970-01-01", tz = "UTC"), "%Y-%m-%d %H:%M:%S", tz = zone)
  ahead <- as.numeric(as.POSIXct(wall, tz = "UTC")) / 60 - at
  out[known] <- ahead[match(utc[known], at)]
  out
}

# The instants a wall-clock time can mean: column 1 the earlier, column 2 the later if the hour comes twice; none in a gap.
wall_instants <- function(wall, zone) {
  before <- wall - zone_offset(wall - 1560, zone)
  after <- wall - zone_offset(wall + 1560, zone)
  valid <- function(utc) ifelse(!is.na(utc) & utc + zone_offset(utc, zone) == wall, utc, NA)
  one <- valid(before)
  two <- valid(after)
  first <- pmin(one, two, na.rm = TRUE)
  second <- pmax(one, two, na.rm = TRUE)
  cbind(first, ifelse(!is.na(first) & second > first, second, NA))
}

ISO_TIME <- paste0("^(\\d{4}-\\d{2}-\\d{2})[Tt ](\\d{2}):(\\d{2})(:\\d{2}([.,]\\d+)?)?",
                   "([Zz]|[+-]\\d{2}(:?\\d{2})?)?$")

# Days that a spreadsheet's serial number 0 lies after 1970-01-01, by the base that it counts from.
SERIAL_ZERO <- c("1900" = as.numeric(as.Date("1899-12-30")), "1904" = as.numeric(as.Date("1904-01-01")))

# Texts to instants in minutes (two candidates each, as wall_instants), NA where impossible: ISO 8601, its seconds cut, or a
# spreadsheet's serial, rounded to the nearest minute.
time_parse <- function(text, zone, serial_base = "1900") {
  out <- matrix(NA_real_, length(text), 2)
  serial <- grepl("^\\d{1,7}([.]\\d+)?$", text)
  days <- as.numeric(text[serial]) + SERIAL_ZERO[[serial_base]]
  out[serial, ] <- wall_instants(floor(days * 1440 + 0.5), zone)
  form <- !is.na(text) & grepl(ISO_TIME, text)
  day <- as.Date(sub(ISO_TIME, "\\1", text[form]), "%Y-%m-%d")
  hour <- as.numeric(sub(ISO_TIME, "\\2", text[form]))
  minute <- as.numeric(sub(ISO_TIME, "\\3", text[form]))
  second <- as.numeric(sub(",", ".", paste0("0", substring(sub(ISO_TIME, "\\4", text[form]), 2))))
  offset <- sub(ISO_TIME, "\\6", text[form])
  good <- !is.na(day) & minute < 60 & second < 60 & (hour < 24 | (hour == 24 & minute == 0 & second == 0))
  wall <- ifelse(good, as.numeric(day) * 1440 + hour * 60 + minute, NA)
  digits <- gsub("\\D", "", offset)
  ahead_hours <- as.numeric(paste0("0", substr(digits, 1, 2)))
  ahead_minutes <- as.numeric(paste0("0", substr(digits, 3, 4)))
  ahead <- ifelse(ahead_hours < 24 & ahead_minutes < 60, ahead_hours * 60 + ahead_minutes, NA)
  ahead <- ifelse(startsWith(offset, "-"), -ahead, ahead)
  instants <- wall_instants(wall, zone)
  stated <- offset != ""
  instants[stated, ] <- cbind(wall - ahead, NA)[stated, ]
  out[form, ] <- instants
  out
}

# Stamps in the order of the phases; a request that ended did so after the phases that come before departure.
in_order <- function(stamps) {
  before <- stamps[PHASES[1:4]]
  !is.unsorted(stamps[PHASES], na.rm = TRUE) && all(before <= stamps["ended_at"], na.rm = TRUE)
}

# A stamp in an hour that comes twice is resolved only where all readings that put the record's stamps in order, and there is
# one, agree on it.
twice_resolve <- function(early, late) {
  for (i in which(rowSums(!is.na(late)) > 0)) {
    twice <- which(!is.na(late[i, ]))
    ways <- as.matrix(expand.grid(rep(list(c(FALSE, TRUE)), length(twice))))
    readings <- lapply(seq_len(nrow(ways)), function(w) {
      stamps <- early[i, ]
      stamps[twice[ways[w, ]]] <- late[i, twice[ways[w, ]]]
      stamps
    })
    fits <- vapply(readings, in_order, NA)
    for (j in twice) {
      meant <- unique(vapply(readings[fits], `[`, 0, j))
      early[i, j] <- if (length(meant) == 1) meant else NA_real_
    }
  }
  early
}

date_parse <- function(text) {
  as.numeric(as.Date(ifelse(grepl("^\\d{4}-\\d{2}-\\d{2}$", text), text, NA), "%Y-%m-%d"))
}

# ---- Cells to values ------------------------------------------------------------------------------------------------------

# Whole numbers of years are banded, up to the longest human life (122 years, from memory): 999 says that nobody knew. A code
# is read without regard to case, space, underscore, hyphen.
code_parse <- function(text, field) {
  if (field == "age_band") {
    whole <- grepl("^\\d{1,3}$", text)
    text[whole] <- as.character(cut(as.numeric(text[whole]), c(-1, 15, 39, 59, 74, 89, 122), CODES$age_band))
  }
  code <- alike(text)
  ifelse(code %in% CODES[[field]], code, NA_character_)
}

text_parse <- function(text) ifelse(nchar(text, "bytes") > 64, NA_character_, text)

unit_parse <- function(text) ifelse(tolower(text) %in% c("all", "unknown"), NA_character_, text)

number_parse <- function(text) {
  value <- suppressWarnings(as.numeric(ifelse(grepl("^\\d+([.]\\d*)?$|^[.]\\d+$", text), text, NA)))
  ifelse(value <= 20000, value, NA)
}

# The events cell of each record: `known`, and one line for each event listed (record, category, harm or NA).
events_parse <- function(text) {
  parts <- strsplit(as.character(ifelse(is.na(text), "", paste0(text, ";"))), ";", fixed = TRUE)
  record <- rep(seq_along(parts), lengths(parts))
  item <- as.character(unlist(parts))
  category <- alike(sub(":.*$", "", item))
  harm <- ifelse(grepl(":", item, fixed = TRUE), alike(sub("^[^:]*:", "", item)), NA)
  none <- category == "none" & is.na(harm)
  fits <- none | category %in% EVENTS & (is.na(harm) | harm %in% HARMS)
  mixed <- tapply(none, record, any) & !tapply(none, record, all)
  bad <- c(record[!fits], unique(record)[mixed])
  list(known = !is.na(text) & !seq_along(text) %in% bad,
       list = data.frame(record, category, harm, stringsAsFactors = FALSE)[!none & !record %in% bad, ])
}

# Reads every log. Returns the records that count and the account of rows.
records_read <- function(paths, settings) {
  logs <- lapply(paths, log_read)
  table <- do.call(rbind, lapply(logs, `[[`, "table"))
  file <- rep(seq_along(paths), vapply(logs, function(l) nrow(l$table), 0L))
  per_file <- lapply(paths, log_settings, settings = settings)
  records <- values_of(table, file, per_file, settings$timezone)
  received <- as.Date(vapply(per_file, function(s) if (is.null(s$received)) NA_character_ else s$received, ""))
  rank <- if (anyNA(received)) seq_along(paths) else order(order(received, seq_along(paths)))
  read <- sum(vapply(logs, `[[`, 0L, "read"))
  enough <- !is.na(records$sending_unit) & !is.na(records$day) &
    !(!is.na(records$receiving_unit) & records$sending_unit == records$receiving_unit)
  repeated <- repeats(records, enough, rank[file])
  both <- ends_join(records[enough & !repeated, , drop = FALSE], settings)
  account <- c(read = read, put_aside = read - sum(enough), repeated = sum(repeated), merged = both$joined)
  list(records = both$records, account = account, ends = both)
}

values_of <- function(table, file, per_file, zone) {
  out <- list()
  for (f in TEXTS) out[[f]] <- text_parse(table[, f])
  for (f in UNITS) out[[f]] <- unit_parse(table[, f])
  for (f in names(CODES)) out[[f]] <- code_parse(table[, f], f)
  early <- late <- matrix(NA_real_, nrow(table), length(TIMES), dimnames = list(NULL, TIMES))
  for (i in unique(file)) for (f in TIMES) {
    kept_in <- c(per_file[[i]]$timezone, zone)[1]
    base <- c(per_file[[i]]$serial_base, "1900")[1]
    instants <- time_parse(table[file == i, f], kept_in, base)
    early[file == i, f] <- instants[, 1]
    late[file == i, f] <- instants[, 2]
  }
  stamps <- twice_resolve(early, late)
  out$received <- rep(NA_real_, nrow(table))
  out$transfer_date <- date_parse(table[, "transfer_date"])
  for (i in seq_along(per_file)) {
    mine <- which(file == i)
    setting <- per_file[[i]]
    if (!is.null(setting$recorded_by)) out$recorded_by[mine] <- setting$recorded_by
    if (is.null(setting$received)) next
    last <- as.numeric(as.Date(setting$received))
    out$received[mine] <- last
    for (f in TIMES) stamps[mine, f][which(local_day(stamps[mine, f], zone) > last)] <- NA
    out$transfer_date[mine][which(out$transfer_date[mine] > last)] <- NA
  }
  for (f in TIMES) out[[f]] <- stamps[, f]
  out$distance_km <- number_parse(table[, "distance_km"])
  events <- events_parse(table[, "events"])
  out$events_known <- events$known
  out <- as.data.frame(out, stringsAsFactors = FALSE)
  out$events <- split(events$list[c("category", "harm")], factor(events$list$record, levels = seq_len(nrow(table))))
  out$day <- day_of(out, zone)
  out
}

# Local day that a record belongs to.
day_of <- function(records, zone) {
  day <- local_day(records$requested_at, zone)
  day <- ifelse(is.na(day), records$transfer_date, day)
  ifelse(is.na(day), local_day(records$departed_at, zone), day)
}

local_day <- function(utc, zone) floor((utc + zone_offset(utc, zone)) / 1440)

# Same pseudonym, log keeper and (where known) ends, requests at most 24 h apart, or the same day where no time is known: the
# later file, else the later line, stays.
repeats <- function(records, enough, rank) {
  keeper <- ifelse(is.na(records$recorded_by), records$sending_unit, records$recorded_by)
  rows <- which(enough & !is.na(records$transfer_id))
  dropped <- rep(FALSE, nrow(records))
  for (group in split(rows, paste(records$transfer_id, keeper, sep = "\r")[rows])) {
    group <- group[order(-rank[group], -group)]
    kept <- group[1]
    for (i in group[-1]) {
      same <- vapply(kept, function(k) repeats_of(records, i, k), NA)
      if (any(same)) dropped[i] <- TRUE else kept <- c(kept, i)
    }
  }
  dropped
}

repeats_of <- function(records, i, k) {
  agree <- function(field) {
    pair <- records[[field]][c(i, k)]
    anyNA(pair) || pair[1] == pair[2]
  }
  apart <- abs(diff(records$requested_at[c(i, k)]))
  near <- if (is.na(apart)) diff(records$day[c(i, k)]) == 0 else apart <= 1440
  agree("sending_unit") && agree("receiving_unit") && near
}

# ---- Derived fields -------------------------------------------------------------------------------------------------------

CAP_PARTS <- list("requested_at..accepted_at" = "wait", "requested_at..at_patient_at" = "wait",
                  "requested_at..departed_at" = "wait", "at_patient_at..departed_at" = "wait",
                  "team_ready_at..departed_at" = "wait", "departed_at..arrived_at" = "journey",
                  "arrived_at..handed_over_at" = "handover", "team_ready_at..returned_at" = "away",
                  "requested_at..arrived_at" = c("wait", "journey"), "departed_at..handed_over_at" = c("journey", "handover"))

# Minutes from one stamp to another, NA unless both are known, in order and within the cap (a sum of caps needs each part).
interval <- function(records, name, caps) {
  ends <- strsplit(name, "..", fixed = TRUE)[[1]]
  minutes <- records[[ends[2]]] - records[[ends[1]]]
  cap <- sum(unname(caps[CAP_PARTS[[name]]]))
  if (is.null(CAP_PARTS[[name]]) || is.na(cap)) cap <- Inf
  ifelse(!is.na(minutes) & minutes >= 0 & minutes <= cap, minutes, NA)
}

yes_no <- function(truth) ifelse(truth, "yes", "no")

out_of_hours <- function(utc, settings) {
  wall <- utc + zone_offset(utc, settings$timezone)
  day <- floor(wall / 1440)
  minute <- wall %% 1440
  weekday <- (day + 4) %% 7
  weekday %in% settings$weekend | day %in% as.numeric(settings$holidays) | minute < settings$day_starts |
    minute >= settings$day_ends
}

derive <- function(records, settings) {
  left <- !is.na(records$departed_at)
  outcome <- records$outcome
  records$ended <- ifelse(left & outcome %in% NOT_DEPARTED, NA,
                          ifelse(left | outcome %in% DEPARTED, "departed", ifelse(outcome %in% NOT_DEPARTED, outcome, NA)))
  records$departed <- yes_no(records$ended == "departed")
  records$reason_group <- unname(REASON_GROUP[records$reason])
  when <- ifelse(records$departed == "yes", records$departed_at, records$requested_at)
  records$out_of_hours <- ifelse(is.na(when), NA, yes_no(out_of_hours(when, settings)))
  harms <- lapply(records$events, `[[`, "harm")
  adverse <- lapply(harms, function(h) h[is.na(h) | h != "near-miss"])
  count <- lengths(adverse)
  worst <- vapply(adverse, function(h) suppressWarnings(max(match(h, HARMS), -Inf, na.rm = TRUE)), 0)
  known <- function(x) ifelse(records$events_known, x, NA)
  records$adverse_event <- known(yes_no(count > 0))
  records$near_miss <- known(yes_no(lengths(harms) > count))
  graded <- vapply(adverse, function(h) !anyNA(h), NA)
  records$harmed <- known(ifelse(worst >= match("moderate", HARMS), "yes", ifelse(graded, "no", NA)))
  records$worst_harm <- known(ifelse(count == 0, "none", ifelse(is.finite(worst), HARMS[pmax(worst, 1)], NA)))
  target <- unname(settings$targets[records$urgency])
  if (!length(settings$targets)) target <- rep(NA_real_, nrow(records))
  records$has_target <- ifelse(is.na(records$urgency), NA, yes_no(!is.na(target)))
  records$departed_in_time <- yes_no(interval(records, "requested_at..departed_at", settings$caps) <= target)
  weekday <- function(utc) WEEKDAYS[(local_day(utc, settings$timezone) + 3) %% 7 + 1] # 1970-01-01 was a Thursday
  records$requested_weekday <- weekday(records$requested_at)
  records$departed_weekday <- weekday(records$departed_at)
  hour <- function(utc) as.character(floor((utc + zone_offset(utc, settings$timezone)) %% 1440 / 60))
  records$requested_hour <- hour(records$requested_at)
  records$departed_hour <- hour(records$departed_at)
  records
}
