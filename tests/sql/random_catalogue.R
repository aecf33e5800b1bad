#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
# Invents a catalogue from a seed: conditions over every coded, unit and derived field with = and !=, events, durations
# between any two times, every measure and exposure, breakdowns by any field. Names and titles are hostile to SQL.
#
#   Rscript tests/sql/random_catalogue.R SEED ROWS UNIT... >indicators.csv

words <- commandArgs(trailingOnly = TRUE)
here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE)[1]))
source(file.path(here, "../oracle/record.R"))
suppressWarnings(RNGversion("4.0.0"))
set.seed(as.integer(words[1]))
rows <- as.integer(words[2])
units <- words[-(1:2)]

LISTS <- c(CODES, DERIVED_CODES, setNames(rep(list(units), length(UNITS)), UNITS))
TITLES <- c("plain", "it's; DROP TABLE transfers; --", "two\nlines */ x", "\"quoted\"", "100 % of caf\u00e9s")

term <- function() {
  operator <- sample(c("=", "!="), 1)
  if (runif(1) < 0.2) {
    codes <- if (runif(1) < 0.3) "any" else sample(EVENTS, sample(8, 1))
    field <- "event"
  } else {
    field <- sample(names(LISTS), 1)
    codes <- sample(LISTS[[field]], sample(length(LISTS[[field]]), 1))
  }
  paste0(field, operator, paste(codes, collapse = "|"))
}

condition <- function(often_all) {
  if (runif(1) < often_all) return("all")
  paste(replicate(sample(c(1, 1, 1, 2, 2, 3, 4), 1), term()), collapse = " & ")
}

duration <- function() paste(sample(TIMES, 2), collapse = "..")

row <- function(i) {
  measure <- sample(c("share", "rate", "quantile", "mix", "count", "hours", "overlap"), 1, prob = c(5, 4, 2, 2, 2, 1, 1))
  events <- switch(measure,
    share = condition(0.02), rate = if (runif(1) < 0.2) "" else condition(0), count = "",
    mix = if (runif(1) < 0.3) "event" else sample(names(LISTS), 1), duration())
  per <- if (measure != "rate") "" else sample(c("100 transfers", paste("1000 hours", duration()), "10 distance_km", "2 weeks"), 1)
  data.frame(indicator = paste0(sample(c("r", "R", "r'--"), 1), i), title = sample(TITLES, 1), measure = measure,
             events = events, among = condition(0.2), per = per,
             by = paste(sample(names(LISTS), sample(0:2, 1, prob = c(6, 3, 1))), collapse = "|"))
}

write.csv(do.call(rbind, lapply(seq_len(rows), row)), row.names = FALSE)
