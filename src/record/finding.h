// SPDX-License-Identifier: GPL-3.0-or-later
// What was found about a log: one row of findings.csv or put-aside.csv.
#ifndef CROSSWARD_RECORD_FINDING_H
#define CROSSWARD_RECORD_FINDING_H

#include <glib.h>
#include <stdint.h>

typedef enum { SEVERITY_NOTE, SEVERITY_REPAIR, SEVERITY_LOST, SEVERITY_SEVERE } Severity;

#define FINDING_ALL_LOGS UINT32_MAX // instead of a file: about the logs together

typedef struct {
    uint32_t file;   // index of the input, or FINDING_ALL_LOGS
    uint32_t line;   // physical line that the record starts on, 1-based; 0 = the file as a whole
    uint32_t column; // 1-based, 0 = the row
    int field;       // FieldId, FIELD_COUNT if none
    Severity severity;
    const char *code;    // short stable word, a literal
    char *found;         // cell as found, at most 40 bytes, or NULL; owned
    const char *message; // a literal, or of finding_text
} Finding;

typedef struct {
    uint32_t file, line;
    const char *code, *message; // literals
    char *row;                  // the row word for word, owned
} PutAside;

typedef struct {
    GArray *findings;  // of Finding
    GArray *put_aside; // of PutAside
    GStringChunk *texts;
} Findings;

Findings *finding_list_new(void);
void finding_list_free(Findings *list);

// Adds a finding; found may be NULL, else length bytes of it are copied, at most 40 (cut at a whole
// character).
void finding_add(Findings *list, const Finding *about, const char *found, size_t length);

// A message with something filled in; lives as long as the list does.
const char *finding_text(Findings *list, const char *format, ...) G_GNUC_PRINTF(2, 3);

// Adds a row that is not used; row is taken over.
void finding_put_aside(Findings *list, uint32_t file, uint32_t line, const char *code,
                       const char *message, char *row);

// Moves all of `from` to the end of `list`; their file is set, line_base added to their lines.
void finding_absorb(Findings *list, Findings *from, uint32_t file, uint32_t line_base);

// Orders both lists by file, line, column, code.
void finding_sort(Findings *list);

const char *finding_severity_text(Severity severity);

// What to do about findings of that code (findings.def), or NULL if nothing is said of it there.
const char *finding_advice(const char *code);

#endif
