// SPDX-License-Identifier: GPL-3.0-or-later
// Codes and conditions in plain words.
#ifndef CROSSWARD_MEASURE_PLAINLY_H
#define CROSSWARD_MEASURE_PLAINLY_H

#include "measure/catalogue.h"

#include <glib.h>

// A code with blanks for hyphens where words are meant: "senior trainee", but "time-critical". To
// be freed.
char *plainly_code(const char *code);

// A condition: "departed and ventilated"; a term without words of its own names its field and
// codes: "capnography yes or not needed". Empty for a condition without terms. To be freed.
char *plainly_condition(const Condition *condition);

// What an indicator counts: "departed and ventilated", "the time, from request to departure"; and
// among whom: "transfers: ventilated". To be freed.
char *plainly_counts(const Indicator *indicator);
char *plainly_among(const Indicator *indicator);

// Whose records an indicator's units are held against each other by, as an apposition: " carried by
// the sending unit's own team"; empty if by all. compare: as the catalogue has it. To be freed.
char *plainly_judged(const char *compare);

#endif
