// SPDX-License-Identifier: GPL-3.0-or-later
// In which order a log writes day, month and year: found only where its dates leave no doubt.
#ifndef CROSSWARD_INTAKE_DATEORDER_H
#define CROSSWARD_INTAKE_DATEORDER_H

#include "intake/logsettings.h"

// Which orders the dates seen so far allow.
typedef struct {
    bool possible[DATE_ORDER_MDY + 1]; // by DateOrder
    uint64_t dates;                    // whose order is the log's: 09/03/2031
    uint64_t short_years;              // of them, with two digits of the year
    uint32_t first_line;               // of such a date
} DateOrders;

// Looks at the cells of the columns marked in is_time (one for each of n_heads), in the records of
// text (`length` bytes that follow the heading; its first line is number `line`).
DateOrders dateorder_look(const char *text, size_t length, char delimiter, const bool *is_time,
                          unsigned n_heads, uint32_t line);

// The order that all dates allow, UNSET if there are no such dates. False and an error
// (READER_ERROR_REFUSED, without file and line) that says what to write in network.ini if more than
// one is possible, if none is, or if two-digit years have no century_pivot.
bool dateorder_choose(const DateOrders *orders, const LogSettings *settings, DateOrder *order,
                      GError **error);

#endif
