// SPDX-License-Identifier: GPL-3.0-or-later
// Figures and names as people read them.
#ifndef CROSSWARD_PACK_WORDS_H
#define CROSSWARD_PACK_WORDS_H

#include "measure/estimate.h"

// What a figure is counted in.
typedef enum {
    WORDS_COUNT,
    WORDS_PERCENT, // the value is a proportion
    WORDS_MINUTES,
    WORDS_HOURS,
    WORDS_RATE // the indicator's scale says per what
} WordsUnit;
WordsUnit words_unit(const Indicator *indicator);

// Decimals that suit a column whose largest figure is `largest`.
int words_decimals(WordsUnit unit, double largest);

// The same, where the smallest that is above 0 must not look like 0: 0.2 a week beside 42 a week.
int words_decimals_between(WordsUnit unit, double smallest, double largest);

// The figure with its unit: "12 %", "95 min", "3 h 05", "4,254"; "not known" when not finite.
// Free the results.
char *words_figure(WordsUnit unit, double value, int decimals);

// The same with what a rate is per: "22 per 100 transfers".
char *words_value(const Indicator *indicator, double value);

// "12 % (9 to 16)", "(at least 9)", "(at most 16)", "(no interval)".
char *words_interval(WordsUnit unit, double estimate, double lower, double upper, int decimals);

// The same of a row, with decimals that suit it alone.
char *words_estimate(const Estimates *e, const Estimate *row);

// "as about 1 in 20 does by chance alone": intervals that do not reach the value, where nothing
// differs. Free the result.
char *words_by_chance(const Estimates *e);

// "not known for 88 of 127" where a share rests on less than nine in ten of its records, else NULL.
// Free the result.
char *words_unknown(const Estimates *e, const Estimate *row);

// Name of a unit for people, and its code where there is little room; isolated where they run from
// right to left (base/visible.h). They belong to the arguments, or last as long as the program.
const char *words_unit_name(const Estimates *e, const Network *network, uint16_t unit);
const char *words_unit_code(const Estimates *e, uint16_t unit);

// Whether one unit sent all transfers, so that nothing compares units.
bool words_single(const Estimates *e);
// What the estimates over all units are of: "The network", or that one unit's name.
const char *words_whole(const Estimates *e, const Network *network);

// A code with blanks for hyphens where words are meant: "senior trainee", but "time-critical".
char *words_code(const char *code);

// Text of a code or unit of a field: "yes", "time-critical", "unknown"; yes and no of a field in
// words that stand alone ("out of hours", "in hours"). Free the result.
char *words_group(const Estimates *e, const Network *network, FieldId by, uint16_t group);

// What a field holds, in a word or two: "escort grade", "time of request". Free the result.
char *words_field(FieldId field);

// Whether the network's name or notice says that the data are invented; then what every page says.
// NULL if nothing is to be said. Belongs to the network or is a literal.
const char *words_notice(const Network *network);

#endif
