// SPDX-License-Identifier: GPL-3.0-or-later
// Periods of the audit: all, audit years, quarters, months, in the network's local time.
#ifndef CROSSWARD_MEASURE_PERIOD_H
#define CROSSWARD_MEASURE_PERIOD_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

typedef enum { PERIOD_ALL, PERIOD_YEAR, PERIOD_QUARTER, PERIOD_MONTH } PeriodKind;

typedef struct {
    PeriodKind kind;
    char name[24];
    int first, end; // months, half-open; a month is year * 12 + (month - 1)
} Period;

// Month of a local day, and the first day of a month.
int period_month(int32_t day);
int32_t period_first_day(int month);

// Reads `2031`, `2031-Q2`, `2031-07` or a span `2030-Q3..2031-Q2`, by the month that audit years
// begin in.
bool period_parse(const char *text, int year_starts, int *first, int *end, GError **error);

// All periods that touch the months [first, end), in print order; `all` covers [all_first,
// all_end) and is the only one when first = end. GArray of Period.
GArray *period_list(int first, int end, int all_first, int all_end, int year_starts);

#endif
