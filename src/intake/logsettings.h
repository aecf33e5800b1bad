// SPDX-License-Identifier: GPL-3.0-or-later
// How one log is to be read: the [log PATTERN] section of network.ini that its name matches.
#ifndef CROSSWARD_INTAKE_LOGSETTINGS_H
#define CROSSWARD_INTAKE_LOGSETTINGS_H

#include "intake/mapping.h"
#include "record/network.h"

typedef enum { DATE_ORDER_UNSET, DATE_ORDER_YMD, DATE_ORDER_DMY, DATE_ORDER_MDY } DateOrder;

typedef struct {
    char *group;       // "log PATTERN", NULL if no section matches; then nothing is set
    Mapping *mapping;  // NULL = not set
    char *encoding;    // as iconv names it, NULL = not set
    char *recorded_by; // NULL = not set
    WhenZone *zone;    // NULL = the network's
    DateOrder date_order;
    char delimiter;      // ',', ';' or '\t', 0 = not set
    char decimal;        // '.' or ',', 0 = not set
    char separator;      // between the items of a cell, 0 = not set
    uint32_t header_row; // physical line of the heading, 0 = not set
    int century_pivot;   // two-digit years below it are 20xx, -1 = not set
    int serial_base;     // 1900 or 1904, 0 = not set
    int32_t received;    // day, WHEN_UNKNOWN = not set
} LogSettings;

// Settings of the first [log PATTERN] that the base name of `name` matches. NULL and an error
// (READER_ERROR_SETTING) if a key, value or mapping is not understood, or READER_ERROR_INPUT if a
// file that it needs is there and can't be read. The mapping's path starts from the network folder.
// Free with logsettings_free.
LogSettings *logsettings_find(const Network *network, const char *name, GError **error);
// Name of that section, to be freed; NULL if none matches.
char *logsettings_group(const Network *network, const char *name);

void logsettings_free(LogSettings *settings);

#endif
