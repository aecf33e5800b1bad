// SPDX-License-Identifier: GPL-3.0-or-later
// Findings by kind: of all logs, and of the logs that each unit keeps itself.
#ifndef CROSSWARD_PACK_FINDINGKINDS_H
#define CROSSWARD_PACK_FINDINGKINDS_H

#include "pack/sheet.h"
#include "pack/source.h"

// A unit keeps a log if all records used from it are kept by that unit (repeats_keeper). In a log
// that several keep, a finding about a record belongs to the record's keeper, any other to none.
typedef struct {
    GArray *kinds; // one entry a code, the worst and commonest first; NULL if none
    guint n;       // findings
    // Of the logs that the unit keeps alone: rows read, and of these the ones not usable.
    uint64_t read, put_aside;
    bool alone, shared; // keeps a log alone; keeps one together with others
} FindingsOf;

struct FindingKinds {
    const Source *s;
    guint n;        // units
    FindingsOf *of; // by unit, 0 = all logs
};

// Sorts s's findings into kinds. Free with findingkinds_free.
FindingKinds *findingkinds_new(const Source *s);
void findingkinds_free(FindingKinds *kinds);

// The kinds of a unit's own logs (0: of all logs) as a table: code, severity, how many, what the
// first of them says, unless that names another unit's log, what to do. NULL if there is none.
Sheet *findingkinds_sheet(const FindingKinds *kinds, uint16_t unit);

// What was read from a unit's own logs, and how much was found about it: a sentence. Free it.
char *findingkinds_sentence(const FindingKinds *kinds, uint16_t unit);

#endif
