// SPDX-License-Identifier: GPL-3.0-or-later
// Checks against values from outside (checks.csv): what a family of methods needs to answer rows.
#ifndef CROSSWARD_PUBLISHED_H
#define CROSSWARD_PUBLISHED_H

#include "stats/interval.h"
#include <stdbool.h>
#include <stddef.h>

// One row of the file. `inputs` of a row that says "same" are those of the row that it refers to.
typedef struct {
    const char *id, *method, *inputs, *quantity, *expected, *tolerance, *source;
} CheckRow;

typedef struct {
    enum { CHECK_NOT_MINE, CHECK_NUMBERS, CHECK_TEXT } kind;
    int count;
    double numbers[16];
    char text[96];
} CheckAnswer;

typedef CheckAnswer (*CheckFunction)(const CheckRow *row);

// Whom to ask about a method: `pattern` is a glob on the row's method, letters of either case.
// The first answer that is not CHECK_NOT_MINE is taken. A table ends with a NULL pattern.
typedef struct {
    const char *pattern;
    CheckFunction answer;
} CheckMethod;

// One table per family file; a new family is one line here and one in published.c.
extern const CheckMethod published_proportions[];
extern const CheckMethod published_comparisons[];
extern const CheckMethod published_quantiles[];
extern const CheckMethod published_ranks[];
extern const CheckMethod published_tables[];
extern const CheckMethod published_lists[];
extern const CheckMethod published_units[];
extern const CheckMethod published_series[];
extern const CheckMethod published_teams[];
extern const CheckMethod published_coverage[];
extern const CheckMethod published_simulations[];
extern const CheckMethod published_survivals[];
extern const CheckMethod published_regressions[];

// ---- answers ----

CheckAnswer check_not_mine(void);
CheckAnswer check_number(double value);
CheckAnswer check_pair(double first, double second);
CheckAnswer check_text(const char *text);

// The part of an interval that the quantity names: it begins with lower or upper, is `interval`
// (both), or else is taken to be the estimate.
CheckAnswer check_part(const CheckRow *row, StatsInterval interval);

// ---- reading what a row says ----

// True if text contains word, letters of either case.
bool check_says(const char *text, const char *word);

// `key=NUMBER` or `key = NUMBER` (also a/b) in the inputs; the key must stand alone.
bool check_key(const CheckRow *row, const char *key, double *value);

// The level named as `95%` in inputs, quantity or method, or `confidence=0.9`; 0.95 if none is.
double check_confidence(const CheckRow *row);

// All numbers of a text in order; a minus counts when no digit stands before it. NA gives NaN.
size_t check_numbers(const char *text, double *values, size_t most);

// All fractions `a/b` of a text in order.
size_t check_fractions(const char *text, double *above, double *below, size_t most);

// A table `1,2;3,4` or `(1,2),(3,4)`, row by row; false if it is not one or rows differ in length.
bool check_table(const char *text, double *cells, size_t most, size_t *rows, size_t *columns);

// The values of a named sample of data/samples.csv; 0 if there is none of that name.
size_t check_sample(const char *name, double *values, size_t most);

// A named sample whose name the text contains (the longest such name), else the numbers after the
// last colon or in all of the text.
size_t check_values(const char *text, double *values, size_t most);

// A numeric column of data/FILE.csv; an empty cell gives NaN. 0 if there is none.
size_t check_column(const char *file, const char *column, double *values, size_t most);

#endif
