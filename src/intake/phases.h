// SPDX-License-Identifier: GPL-3.0-or-later
// The stamps of one record taken together: dates that a clock lacks, midnights, hours that came
// twice, intervals that can't be.
#ifndef CROSSWARD_INTAKE_PHASES_H
#define CROSSWARD_INTAKE_PHASES_H

#include "intake/cell.h"
#include "record/finding.h"

// What was done to a stamp; code and message are literals.
typedef struct {
    FieldId field;
    uint32_t column; // 0-based column number + 1 as cell_read was told; 0 if not known
    Severity severity;
    const char *code, *message;
} PhaseNote;

enum { PHASES_NOTES = 64 };

// Completes the parts of the record's times (cell_read_part), in the order of the phases. A clock
// without a date takes the day of the stamp before it (of transfer_date if there is none), and so
// does one whose date is shared by several times, unless it is the first of them. If it then
// lies more than an hour before that stamp, it is taken as the next day's, if no interval that ends
// there passes its cap (12 hours from the departure on where no cap is set) and the next stamp
// that has its own date is not passed. Then hours that came twice are settled: they stay known only
// if exactly one choice puts the record's stamps in order. Returns how many notes were written.
unsigned phases_resolve(CellRecord *record, const CellStyle *style, PhaseNote notes[PHASES_NOTES]);

// Notes intervals that are left out since they are negative or pass their cap; changes nothing.
// Returns how many notes were written.
unsigned phases_doubt(const CellRecord *record, const CellStyle *style,
                      PhaseNote notes[PHASES_NOTES]);

#endif
