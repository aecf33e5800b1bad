// SPDX-License-Identifier: GPL-3.0-or-later
// The pack's plain tables: summary.csv, findings.csv, put-aside.csv, and manifest.json.
#ifndef CROSSWARD_PACK_TABLES_H
#define CROSSWARD_PACK_TABLES_H

#include "disclosure/accounted.h"

#include <jansson.h>

// An input as the manifest lists it.
typedef struct {
    const char *name, *sha256;
    uint64_t bytes, rows;
    bool hidden; // a release does not tell its bytes and rows
} TablesInput;

// Takes a piece of a file's text.
typedef void (*TablesSink)(gpointer to, const char *text, gsize length);

// First lines of the CSV files, line end included.
extern const char *const tables_summary_head, *const tables_findings_head,
                                                  *const tables_put_aside_head;

// Hand a whole file's text to sink(to, ...), piece by piece, so that files of any length take the
// same memory. names[i] is the name of input i.
void tables_findings(const Findings *findings, const char *const *names, TablesSink sink,
                     gpointer to);
void tables_put_aside(const Findings *findings, const char *const *names, TablesSink sink,
                      gpointer to);

// Every estimate as CSV and, the same rows with null where a cell is empty, as JSON.
void tables_summary(const Estimates *estimates, TablesSink sink, gpointer csv, gpointer json);

// A count of an input as JSON has it: null if it is hidden. A new reference.
json_t *tables_input_count(const TablesInput *input, uint64_t count);

// settings: key, value, key, value, ..., NULL: those that change a number.
GString *tables_manifest(const TablesInput *inputs, size_t n, const Accounted *account,
                         const char *const *settings); // free with g_string_free

// Appends a number as outputs print it: up to TABLES_DIGITS significant digits, nothing for NaN or
// infinity.
enum { TABLES_DIGITS = 12 };
void tables_number(GString *out, double value);

// The same, and the comma before the next cell; n of them as the last cells of a row.
void tables_number_cell(GString *out, double value);
void tables_numbers(GString *out, const double *values, guint n);

#endif
