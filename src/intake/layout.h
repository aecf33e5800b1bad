// SPDX-License-Identifier: GPL-3.0-or-later
// What each column of one log feeds. Made once a file, from its heading; only read afterwards, so
// threads share it.
#ifndef CROSSWARD_INTAKE_LAYOUT_H
#define CROSSWARD_INTAKE_LAYOUT_H

#include "intake/cell.h"
#include "intake/guard.h"
#include "intake/logsettings.h"

// One field that a column feeds.
typedef struct {
    FieldId field; // a stored field, or MAPPING_HARM
    MappingPart part;
    const MappingFeed *feed; // what the mapping says of its cells, NULL if nothing
    bool several;            // other columns feed the field, too
    bool shared;             // of a date: it is that of several times
    bool dated;              // what the mapping says depends on the record's day
    bool few;                // few texts are in it, each of which means the same in every record
} LayoutTarget;

typedef struct {
    char *head;            // its heading, without what nobody sees
    LayoutTarget *targets; // n_targets of them; none: known and ignored, its cells are never read
    unsigned n_targets;
    bool reads_blank; // an empty cell may mean something
    bool few;         // of some target
    bool alone;       // few, and that target is the only one that the cell feeds, and its field
                      // has no other column
    bool stamp;       // the same of a time, written with its date
} LayoutColumn;

typedef struct {
    LayoutColumn *columns;
    unsigned n_columns;
    CellStyle style;                  // of the log's cells
    CellStyle plain;                  // of the mapping's values: as in a canonical log
    const WhenZone *network_zone;     // in which a record has its day
    char *keeper;                     // recorded_by of a record that says none itself, or NULL
    uint32_t column_of[FIELD_STORED]; // the first that feeds the field, from 1; 0 = none does
    GHashTable *words; // that may be shown: vocabulary_words, those of the mapping and of units.csv
    GPtrArray *absent; // char *: columns that the mapping names and the log lacks
} Layout;

// The layout of a log with these heads (n of them), read under these settings. NULL and an error
// (READER_ERROR_REFUSED, without file and line) if it can't be read: columns that nothing names, a
// field or a heading twice, no sending_unit. Free with layout_free; settings and network must
// outlive it.
Layout *layout_new(char *const *heads, unsigned n, const LogSettings *settings,
                   const Network *network, GError **error);
void layout_free(Layout *layout);

// Whether a cell of the column is its heading again.
bool layout_heads(const LayoutColumn *column, const char *text, size_t length);

enum { LAYOUT_HEAD_SHOWN = 60 }; // characters of a heading in a message

// Why the log is refused since a column says who a patient is, by its heading (guard NULL) or by
// its cells (guard: of each column; *line is set to the first cell's); what it says is not
// repeated. NULL if none does; free with g_free.
char *layout_identifier(const Layout *layout, const GuardColumn *guard, uint32_t *line);

// Whether a target holds numbers, so that its column's decimal sign matters.
static inline bool layout_is_number(const LayoutTarget *target) {
    return target->field != MAPPING_HARM && field_table[target->field].kind == KIND_NUMBER;
}

// Whether a target holds dates, perhaps with a clock.
static inline bool layout_is_date(const LayoutTarget *target) {
    if (target->field == MAPPING_HARM || target->part == MAPPING_CLOCK)
        return false;
    const FieldKind kind = field_table[target->field].kind;
    return kind == KIND_TIME || kind == KIND_DATE;
}

// Whether a heading's cell names something that a log with these LogSettings (data) may have.
bool layout_knows(const char *name, void *data);

// How cells of each column may be copied: MaskColumn, n_columns of them; free with g_free.
uint8_t *layout_masks(const Layout *layout);

#endif
