// SPDX-License-Identifier: GPL-3.0-or-later
// The field table as C sees it: ids, kinds, code lists. The facts stand in fields.def.
#ifndef CROSSWARD_RECORD_FIELD_H
#define CROSSWARD_RECORD_FIELD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

// FIELD_requested_at, FIELD_urgency, ...: in the order of the table, stored ones first, then
// derived ones.
typedef enum {
#define FIELD(name, kind, list, need, description) FIELD_##name,
#include "record/fields.def"
    FIELD_COUNT
} FieldId;
#define FIELD_STORED FIELD_ended // the first derived field, so the number of stored ones

typedef enum {
    KIND_ID,     // pseudonym, 1 to 64 bytes; kept as a 64-bit hash, 0 = unknown
    KIND_UNIT,   // unit code; kept as an index into the units seen, 0 = unknown
    KIND_CODE,   // one of a code list; kept as a byte: 1-based place in the list, 0 = unknown
    KIND_DATE,   // local day; days since 1970-01-01
    KIND_TIME,   // minutes since 1970-01-01T00:00 UTC
    KIND_EVENTS, // list of events; kept as an index into the distinct lists, 0 = unknown
    KIND_NUMBER, // decimal; NaN if unknown
} FieldKind;

typedef enum { NEED_REQUIRED, NEED_DATING, NEED_OPTIONAL, NEED_DERIVED } FieldNeed;

// Values of codes, e.g. CODE_urgency_TIME_CRITICAL; 0 is unknown in every list.
#define LIST(list) enum { CODE_##list##_UNKNOWN,
#define CODE(list, name, code, definition) CODE_##list##_##name,
#define END_LIST(list)                                                                             \
    CODE_##list##_END                                                                              \
    }                                                                                              \
    ;
#include "record/fields.def"

typedef struct {
    const char *code;       // as canonical logs and outputs write it
    const char *definition; // our own short definition
} Code;

typedef struct {
    const char *name;  // e.g. "yes_no"
    const Code *codes; // codes[0] has the value 1
    unsigned n;        // number of codes, "unknown" not counted
} CodeList;

typedef struct {
    const char *name;
    FieldKind kind;
    const CodeList *codes; // meaningful for KIND_CODE, and KIND_EVENTS (categories)
    FieldNeed need;
    const char *description;
} Field;

extern const Field field_table[FIELD_COUNT]; // index by FieldId
extern const CodeList field_harm;            // degrees of harm

// Field of that name, FIELD_COUNT if none. Ignores case and surrounding space; space, underscore
// and hyphen are alike.
FieldId field_find(const char *name, size_t length);

// Value 1..n of the code spelt text (as lenient as field_find), 0 if it is none of the list's.
uint8_t field_code(const CodeList *list, const char *text, size_t length);

// Text of a value: a code for 1..n, "unknown" for 0.
const char *field_code_text(const CodeList *list, unsigned value);

#endif
