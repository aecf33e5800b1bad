// SPDX-License-Identifier: GPL-3.0-or-later
// What a family of functions gives the comparison with R.
#ifndef CROSSWARD_ORACLE_STATS_H
#define CROSSWARD_ORACLE_STATS_H

#include <stddef.h>

enum { ORACLE_MOST_LISTS = 8, ORACLE_MOST_VALUES = 4000 };

typedef struct {
    double *values;
    size_t n;
} OracleList;

// Reads the arguments of a line (a lone number is a list of one) and writes its answers; returns
// how many it wrote.
typedef size_t (*OracleFunction)(const OracleList *given, double *answers);

// The name is that of the line; `tolerance` is relative, `absolute` (mostly 0) what may be left
// where the answer is a difference of larger numbers. Ends with a NULL name.
typedef struct {
    const char *name;
    OracleFunction function;
    double tolerance, absolute;
} OracleEntry;

extern const OracleEntry oracle_counts[];
extern const OracleEntry oracle_samples[];
extern const OracleEntry oracle_units[];
extern const OracleEntry oracle_survival[];
extern const OracleEntry oracle_regression[];

#endif
