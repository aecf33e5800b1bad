// SPDX-License-Identifier: GPL-3.0-or-later
// The pack's plain tables: summary.csv, findings.csv, put-aside.csv, and manifest.json.
#ifndef CROSSWARD_PACK_TABLES_H
#define CROSSWARD_PACK_TABLES_H

#include "cohort/cohort.h"
#include "measure/estimate.h"

// An input as the manifest lists it.
typedef struct {
    const char *name, *sha256;
    uint64_t bytes, rows;
} TablesInput;

// Each returns a whole file's text; free with g_string_free. names[i] is the name of input i.
GString *tables_summary(const Estimates *estimates);
GString *
tables_summary_json(const Estimates *estimates); // the same rows, null where a cell is empty
GString *tables_findings(const Findings *findings, const char *const *names);
GString *tables_put_aside(const Findings *findings, const char *const *names);

// settings: key, value, key, value, ..., NULL: those that change a number.
GString *tables_manifest(const TablesInput *inputs, size_t n, const Account *account,
                         const char *const *settings);

// Appends a number as outputs print it: up to 12 significant digits, nothing for NaN or infinity.
void tables_number(GString *out, double value);

#endif
