// SPDX-License-Identifier: GPL-3.0-or-later
// Days, clock times and time zones: local civil time to and from minutes in UTC.
#ifndef CROSSWARD_RECORD_WHEN_H
#define CROSSWARD_RECORD_WHEN_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

#define WHEN_UNKNOWN INT32_MIN // of a minute or a day
#define WHEN_DAY 1440          // minutes

// Offsets of one time zone for the years 1970 to 2100. Immutable once made, so threads may share
// it.
typedef struct WhenZone WhenZone;

// Zone of an IANA name ("UTC" included); NULL and error if the system has none of that name. Free
// with when_zone_free.
WhenZone *when_zone_new(const char *name, GError **error);
void when_zone_free(WhenZone *zone);

typedef enum { WHEN_OK, WHEN_SKIPPED, WHEN_TWICE } WhenFit;

// Minute in UTC of a local minute (minutes since 1970-01-01T00:00 local). WHEN_SKIPPED: that local
// time does not exist (the clocks went forward); WHEN_TWICE: it came twice, then *utc is the first
// and *second the second reading.
WhenFit when_to_utc(const WhenZone *zone, int32_t local, int32_t *utc, int32_t *second);

// Local minute of a minute in UTC.
int32_t when_to_local(const WhenZone *zone, int32_t utc);

// Days since 1970-01-01 of a date of the Gregorian calendar, and back (month 1..12, day 1..31).
int32_t when_day(int year, int month, int day);
void when_civil(int32_t day, int *year, int *month, int *day_of_month);
bool when_valid_date(int year, int month, int day);

// Day that a minute lies in; also right before 1970.
int32_t when_day_of(int32_t minute);

// Weekday of a day, 0 = Monday.
int when_weekday(int32_t day);

// Reads an ISO 8601 date (2031-03-09) into days; false if it is none.
bool when_read_date(const char *text, size_t length, int32_t *day);

// Reads what follows the date in an ISO 8601 date and time (T14:05, seconds cut, 'T' or space,
// offset Z or +hh:mm allowed, 24:00 is the next day's 00:00). *has_offset says whether *minute is
// UTC already; otherwise it is local.
bool when_read_clock(int32_t day, const char *text, size_t length, int32_t *minute,
                     bool *has_offset);

#endif
