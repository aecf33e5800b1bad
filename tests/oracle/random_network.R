#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
# Invents a small, nasty network and its canonical logs from a seed, so that every definition is exercised: many unknowns,
# near misses, contradictions, reversed times, ties, repeats, rows to put aside, clock changes, empty groups. All of it is
# invented.
#
#   Rscript tests/oracle/random_network.R SEED DIR     writes DIR/network/ and DIR/logs/

words <- commandArgs(trailingOnly = TRUE)
seed <- as.integer(words[1])
dir <- words[2]
here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE)[1]))
source(file.path(here, "record.R"))
suppressWarnings(RNGversion("4.0.0"))
set.seed(seed)

# Among them a change of half an hour, one at midnight, winter time as the exception, and an odd offset without a change.
ZONES <- c("Europe/Paris", "America/New_York", "Australia/Sydney", "Europe/London", "Australia/Lord_Howe", "America/Santiago",
           "Europe/Dublin", "Asia/Kathmandu")
zone <- ZONES[seed %% length(ZONES) + 1]
units <- c("North", "south-1", "B\u00e9ta", "Delta unit")[seq_len(sample(2:4, 1))]
single <- if (seed %% 2 == 0) "Lone" else NULL
first_day <- as.numeric(as.Date("2030-11-20")) + sample(0:60, 1)
days <- sample(c(200, 330, 430), 1)

pick <- function(codes, n, unknown = 0.2) {
  out <- sample(codes, n, replace = TRUE, prob = rexp(length(codes)) + 0.02)
  out[runif(n) < unknown] <- ""
  out
}

iso <- function(wall) ifelse(is.na(wall), "", format(as.POSIXct(wall * 60, origin = "1970-01-01", tz = "UTC"), "%Y-%m-%dT%H:%M"))

# Stamps of n requests as wall clocks: steps of 0 minutes are ties, negative steps are reversed times, long ones meet the caps.
stamps <- function(n) {
  step <- function(typical) {
    out <- round(rexp(n) * typical / 5) * 5
    out[runif(n) < 0.08] <- 0
    out[runif(n) < 0.06] <- -sample(c(1, 5, 60), 1)
    long <- runif(n) < 0.03
    out[long] <- out[long] + 3000
    out
  }
  requested <- (first_day + sample(days, n, replace = TRUE)) * 1440 + sample(c(479, 480, 1199, 1200, 0, seq(0, 1435, 5)), n, TRUE)
  accepted <- requested + step(40)
  ready <- accepted + step(40)
  patient <- ready + step(30)
  departed <- patient + step(60)
  arrived <- departed + step(60)
  handed <- arrived + step(25)
  returned <- handed + step(120)
  out <- cbind(requested, accepted, ready, patient, departed, arrived, handed, returned)
  out[, -1][runif(7 * n) < 0.15] <- NA
  colnames(out) <- PHASES
  out
}

events <- function(n) {
  vapply(seq_len(n), function(i) {
    kind <- runif(1)
    if (kind < 0.25) return("")
    if (kind < 0.5) return("none")
    number <- sample(c(1, 1, 2, 3), 1)
    category <- sample(EVENTS, number, replace = TRUE)
    if (runif(1) < 0.3) category[] <- category[1]
    harm <- sample(c("", HARMS), number, replace = TRUE, prob = c(3, 4, 3, 3, 2, 1, 1))
    paste0(category, ifelse(harm == "", "", ":"), harm, collapse = ";")
  }, "")
}

# Cells that their field can't hold: unknown, and the row stays.
spoil <- function(table) {
  cells <- list(urgency = "purple", ventilated = "maybe", departed_at = "2031-02-30T10:00", arrived_at = "25:61",
                distance_km = "20001", escort_grade = "Senior_Trainee ", team = "SENDING UNIT", age_band = "93",
                care_level = "7", events = "respiratory:awful", requested_at = "soon", distance_km = "-4",
                handed_over_at = "2031-01-01T24:00", receiving_unit = "all", accepted_at = "2031-04-10T11:12:59",
                returned_at = "2031-04-10T11:12Z", transfer_date = "2031-13-01", age_band = "999", age_band = "105",
                requested_at = "47950.50069", departed_at = "47950.75", arrived_at = "2031-02-01T10:00+01:60",
                events = "airway:low;", events = "none;airway", events = "Line_or tube : NEAR MISS;airway",
                ended_at = "2031-02-01", distance_km = "1,5", team_ready_at = "2031-05-05 10:15")
  for (i in seq_along(cells)) if (names(cells)[i] %in% names(table))
    table[sample(nrow(table), 2), names(cells)[i]] <- cells[[i]]
  table
}

# Journeys across both clock changes of the zone: the hour that does not exist, the hour that comes twice with the order of
# stamps deciding, not deciding, and with offsets.
clock_changes <- function(table) {
  wall <- seq((first_day - 5) * 1440, (first_day + days) * 1440, 30)
  instants <- wall_instants(wall, zone)
  gap <- head(wall[is.na(instants[, 1])], 1)
  twice <- head(wall[!is.na(instants[, 2])], 1)
  put <- function(table, row, at) {
    table[row, PHASES] <- ""
    table[row, names(at)] <- iso(at)
    table$outcome[row] <- "completed"
    table$team[row] <- "sending-unit"
    table$transfer_date[row] <- ""
    table
  }
  if (length(gap)) {
    table <- put(table, 1, c(requested_at = gap - 120, team_ready_at = gap - 60, departed_at = gap - 20, arrived_at = gap + 80,
                             handed_over_at = gap + 100, returned_at = gap + 300))
    table <- put(table, 2, c(requested_at = gap - 70, departed_at = gap + 15, arrived_at = gap + 90))
  }
  if (length(twice)) {
    table <- put(table, 3, c(requested_at = twice - 120, team_ready_at = twice - 90, departed_at = twice - 20,
                             arrived_at = twice + 75, handed_over_at = twice + 95, returned_at = twice + 240))
    table <- put(table, 4, c(requested_at = twice - 60, departed_at = twice + 50, arrived_at = twice + 10,
                             handed_over_at = twice + 90))
    table <- put(table, 5, c(requested_at = twice - 60, departed_at = twice + 25, arrived_at = twice + 90))
    table <- put(table, 6, c(requested_at = twice - 60, arrived_at = twice + 90))
    ahead <- zone_offset(instants[wall == twice, 2], zone)
    table$departed_at[6] <- sprintf("%s%s%02.0f:%02.0f", iso(twice + 25), if (ahead < 0) "-" else "+", abs(ahead) %/% 60,
                                    abs(ahead) %% 60)
  }
  table
}

transfers <- function(n) {
  stamp <- stamps(n)
  table <- as.data.frame(matrix(iso(stamp), n, dimnames = list(NULL, PHASES)), stringsAsFactors = FALSE)
  table <- cbind(transfer_id = sprintf("T%d", sample(n)), sending_unit = sample(units, n, TRUE, rexp(length(units)) + 0.1), table,
                 stringsAsFactors = FALSE)
  table$receiving_unit <- pick(c(units, "Far"), n)
  same <- table$sending_unit == table$receiving_unit
  table$receiving_unit[same & runif(n) < 0.9] <- "Far"
  for (field in names(CODES)) table[[field]] <- pick(CODES[[field]], n, runif(1, 0.05, 0.4))
  table$team <- ifelse(runif(n) < 0.5, "sending-unit", table$team)
  table$outcome <- pick(c(rep("completed", 3), CODES$outcome), n, 0.3)
  stayed <- table$outcome %in% NOT_DEPARTED & runif(n) < 0.8
  table[stayed, PHASES[-(1:2)]] <- ""
  ended <- which(stayed & nchar(table$requested_at) == 16 & runif(n) < 0.7)
  table$ended_at <- ""
  table$ended_at[ended] <- table$accepted_at[ended]
  table$transfer_date <- ifelse(runif(n) < 0.15, substr(table$requested_at, 1, 10), "")
  table$transfer_date[substr(table$requested_at, 1, 10) > as.Date(first_day + days - 8, origin = "1970-01-01")] <- ""
  table$requested_at[runif(n) < 0.08] <- ""
  table$events <- events(n)
  table$distance_km <- ifelse(runif(n) < 0.2, "", sprintf("%.1f", rexp(n) * 40))
  table$recorded_by <- ifelse(runif(n) < 0.2, sample(units, n, TRUE), "")
  table$transfer_id[runif(n) < 0.1] <- ""
  table$transfer_id[8:9] <- c("T\"8, \"odd\"", "T9\nover two lines")
  table
}

# Repeats within a day, in the other file too; the same pseudonym again much later; a copy without one.
repeat_some <- function(table) {
  known <- which(table$transfer_id != "" & nchar(table$requested_at) == 16 & table$outcome != "")
  again <- table[sample(known, 6), ]
  again$urgency[1:3] <- "urgent"
  later <- table[sample(known, 2), ]
  year <- as.integer(substr(later$requested_at, 1, 4)) # a reading of the same day two months off, whatever the month
  month <- (as.integer(substr(later$requested_at, 6, 7)) + 1) %% 12 + 1
  later$requested_at <- sprintf("%d-%02d-15T10:00", year, month)
  bare <- table[sample(nrow(table), 1), ]
  bare$transfer_id <- ""
  chain <- table[rep(sample(known, 1), 5), ]
  chain$transfer_id <- "chain"
  chain$requested_at <- c("2031-02-03T00:00", "2031-02-03T20:00", "2031-02-04T16:00", "", "2031-02-04T16:00")
  chain$transfer_date <- c("", "", "", "2031-02-04", "")
  chain$receiving_unit[c(2, 5)] <- c("", "Elsewhere")
  keeper <- table[rep(sample(known, 1), 3), ]
  keeper$recorded_by <- c("Keeper", "", keeper$sending_unit[3])
  rbind(table, again, later, bare, bare, chain, keeper)
}

# What the receiving units logged of the same transfers: clocks that differ by nothing, a little, or just about the window;
# fields left blank or told otherwise; the same pseudonym, another or none; and rows that fit two partners as well, or one in
# nothing but ends and day.
received_rows <- function(table) {
  whole <- nchar(table$requested_at) %in% c(0, 16) & nchar(table$departed_at) %in% c(0, 16) & !grepl("\n", table$transfer_id)
  moved <- table$receiving_unit != "" & table$receiving_unit != table$sending_unit
  copied <- sample(which(whole & moved & runif(nrow(table)) < 0.6))
  sent <- table[copied, ]
  rows <- sent
  n <- nrow(rows)
  for (field in intersect(PHASES, names(rows))) {
    at <- as.numeric(as.POSIXct(rows[[field]], format = "%Y-%m-%dT%H:%M", tz = "UTC")) / 60
    apart <- c(0, 1, -3, 7, -window, window, window + 1, -window - 1)
    rows[[field]] <- iso(at + sample(apart, n, TRUE, c(8, 2, 2, 2, 1, 1, 1, 1)))
  }
  for (field in intersect(c(names(CODES), PHASES, "events", "distance_km", "transfer_date"), names(rows))) {
    other <- sample(n)
    told <- runif(n) < if (field %in% c("age_band", "condition")) 0.1 else 0.2
    if (!field %in% c(PHASES, "transfer_date")) rows[[field]][told] <- rows[[field]][other][told]
    rows[[field]][runif(n) < 0.2] <- ""
  }
  chance <- runif(n)
  rows$transfer_id[chance < 0.5] <- sprintf("R%d", which(chance < 0.5) %% 9)
  rows$transfer_id[chance < 0.1] <- ""
  twins <- seq_len(8) # two rows of the receiver's as near to one of the sender's
  rows[twins, ] <- rows[rep(twins[1:4], each = 2), ]
  rows$transfer_id[twins] <- sprintf("W%d", twins)
  day_only <- 9:16
  day <- substr(sent$requested_at, 1, 10)[day_only]
  rows[day_only, PHASES] <- ""
  rows$transfer_date[day_only] <- day
  rows$recorded_by <- rows$receiving_unit
  rows[rowSums(rows[c("requested_at", "departed_at", "transfer_date")] != "") > 0, ]
}

quoted <- function(x) ifelse(grepl("[\",\n;]", x), paste0("\"", gsub("\"", "\"\"", x, fixed = TRUE), "\""), x)

log_write <- function(table, path, extra) {
  lines <- c(paste(names(table), collapse = ","), do.call(paste, c(lapply(table, quoted), sep = ",")), extra)
  writeLines(enc2utf8(lines), path, useBytes = TRUE)
}

network_write <- function(path) {
  dir.create(path, recursive = TRUE, showWarnings = FALSE)
  caps <- c("wait = 2000", "journey = 600", "handover = 240", "away = 1500")
  targets <- list(c("time-critical = 60", "urgent = 180", "source = invented"), c("urgent = 120"), character())[[seed %% 3 + 1]]
  lines <- c("[network]", "name = An invented network", paste("timezone =", zone),
             paste("year_starts =", c(4, 1, 10, 7)[seed %% 4 + 1]), "day_starts = 07:30", "day_ends = 19:00",
             "holidays = 2031-01-01;2031-04-14", if (seed %% 5 == 0) "weekend = fri;sat",
             if (seed %% 3 == 1) "include = age_band!=0-15", if (seed %/% 2 %% 2 == 1) "shared_ids = yes",
             if (window != 120) paste("join_window =", window),
             if (seed %% 2 == 0) unlist(lapply(seq_along(receivers), function(i)
               c("", sprintf("[log from-%d.csv]", i), paste("recorded_by =", receivers[i]), "serial_base = 1900",
                 if (seed %% 3 == 2) paste("received =", as.Date(first_day + days + 40, origin = "1970-01-01"))))),
             if (seed %% 3 == 2) c("", "[log a*.csv]", paste("received =", as.Date(first_day + days - 3, origin = "1970-01-01")), "serial_base = 1900",
                                   "[log ?.csv]", paste("received =", as.Date(first_day + days - 4, origin = "1970-01-01")), "serial_base = 1900"),
             c("", "[log *]", "serial_base = 1900"), # serials and written dates in one column need it said
             if (length(targets)) c("", "[targets]", targets), if (seed %% 4 != 2) c("", "[caps]", caps))
  writeLines(lines, file.path(path, "network.ini"))
  if (seed %% 2 == 1) writeLines(c(
    "indicator,title,measure,events,among,per,by,better,compare,note",
    "worst_harm_mix,How bad it was,mix,worst_harm,departed=yes,,ended|has_target,,,",
    "events_per_100000_km,Events by distance,rate,event=any,departed=yes,100000 distance_km,receiving_unit,lower,,",
    "equipment_per_1000_hours,Equipment trouble,rate,event=equipment-power|equipment-oxygen & team!=other,all,1000 hours requested_at..arrived_at,near_miss,lower,,",
    "events_per_week,Events a week,rate,event=any,departed=yes & event=any,1 week,,lower,,",
    "time_to_departure,Request to departure,quantile,requested_at..departed_at,departed=yes & urgency!=planned,,harmed|worst_harm,lower,all,",
    "by_the_clock,By hour and weekday,count,,all,,requested_hour|departed_weekday|requested_weekday|departed_hour,,,",
    "no_clock_mix,Weekdays,mix,departed_weekday,out_of_hours!=yes,,adverse_event,,,",
    "not_event_share,Without trouble of the airway,share,event!=airway|respiratory & near_miss=no,departed=yes & age_band!=90+,,sending_area,,,",
    "receiver_mix,Who received,mix,receiving_unit,departed=yes,,,,,"), file.path(path, "indicators.csv"))
}

window <- c(120, 60)[seed %/% 3 %% 2 + 1]
receivers <- c(units, "Far")
n <- sample(c(90, 140, 200), 1)
table <- clock_changes(spoil(transfers(n)))
sent <- table
table <- repeat_some(table)
if (!is.null(single)) {
  table <- rbind(table, table[7, ])
  table$sending_unit[nrow(table)] <- single
  table$receiving_unit[nrow(table)] <- units[1]
}
absent <- c(sample(setdiff(names(CODES), c("team", "outcome", "reason", "urgency")), 3),
            if (seed %% 2 == 0) "recorded_by", if (seed %% 3 == 0) "ended_at")
table <- table[setdiff(names(table), absent)]
dir.create(file.path(dir, "logs"), recursive = TRUE, showWarnings = FALSE)
network_write(file.path(dir, "network"))
half <- seq_len(nrow(table)) %% 3 == 0
only_here <- "distance_km"
first <- table[half, sample(names(table))]
log_write(first, file.path(dir, "logs", "a.csv"),
          c("Totals,12", "", paste(names(first), collapse = ","), "a note beneath"))
log_write(table[!half, setdiff(names(table), only_here)], file.path(dir, "logs", "b.csv"), "")
# The receivers' rows: in one log that names its keepers, or in one for each of them that leaves this to the settings.
received <- received_rows(sent)
received <- received[intersect(c(names(table), "recorded_by"), names(received))]
if (seed %% 2 == 1) {
  log_write(received, file.path(dir, "logs", "received.csv"), "")
} else for (i in seq_along(receivers)) {
  mine <- received[received$recorded_by == receivers[i], setdiff(names(received), "recorded_by")]
  if (nrow(mine)) log_write(mine, file.path(dir, "logs", sprintf("from-%d.csv", i)), "")
}
