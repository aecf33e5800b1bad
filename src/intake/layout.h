// SPDX-License-Identifier: GPL-3.0-or-later
// What each column of one log feeds. Made once a file, from its heading; only read afterwards, so
// threads share it.
#ifndef CROSSWARD_INTAKE_LAYOUT_H
#define CROSSWARD_INTAKE_LAYOUT_H

#include "intake/cell.h"
#include "intake/logsettings.h"

// One field that a column feeds.
typedef struct {
    FieldId field;
} LayoutTarget;

typedef struct {
    char *head;            // its heading as the log writes it
    LayoutTarget *targets; // n_targets of them; none: known and ignored, its cells are never read
    unsigned n_targets;
} LayoutColumn;

typedef struct {
    LayoutColumn *columns;
    unsigned n_columns;
    CellStyle style;
    char *keeper; // recorded_by of a record that says none itself, or NULL
} Layout;

// The layout of a log with these heads (n of them), read under these settings. NULL and an error
// (READER_ERROR_REFUSED, without file and line) if it can't be read: a column that nothing names, a
// field twice, no sending_unit. Free with layout_free; settings and network must outlive it.
Layout *layout_new(char *const *heads, unsigned n, const LogSettings *settings,
                   const Network *network, GError **error);
void layout_free(Layout *layout);

// Whether a target holds numbers, so that its column's decimal sign matters.
static inline bool layout_is_number(const LayoutTarget *target) {
    return field_table[target->field].kind == KIND_NUMBER;
}

// Whether a heading's cell names something that a log with these LogSettings (data) may have.
bool layout_knows(const char *name, void *data);

// How cells of each column may be copied: MaskColumn, n_columns of them; free with g_free.
uint8_t *layout_masks(const Layout *layout);

#endif
