// SPDX-License-Identifier: GPL-3.0-or-later
// A heading -> what each column feeds.
#include "intake/layout.h"

#include "intake/mask.h"
#include "intake/reader.h"

#include <string.h>

// Finds the field that a column is named after; false with an error if there is none, or if a
// column before it feeds that field.
static bool name_column(Layout *layout, unsigned c, GError **error) {
    LayoutColumn *column = &layout->columns[c];
    const FieldId f = field_find(column->head, strlen(column->head));
    if (f >= FIELD_STORED) {
        g_set_error(error, READER_ERROR, READER_ERROR_REFUSED,
                    "column %u, '%.40s', is no field, and no mapping names it: it may hold what "
                    "nobody should read; name it in a mapping (an empty field skips it unread)",
                    c + 1, column->head);
        return false;
    }
    for (unsigned b = 0; b < c; b++)
        if (layout->columns[b].targets[0].field == f) {
            g_set_error(error, READER_ERROR, READER_ERROR_REFUSED, "columns %u and %u are both %s",
                        b + 1, c + 1, field_table[f].name);
            return false;
        }
    column->targets = g_new0(LayoutTarget, 1);
    column->targets[0].field = f;
    column->n_targets = 1;
    return true;
}

static bool feeds(const Layout *layout, FieldId field) {
    for (unsigned c = 0; c < layout->n_columns; c++)
        for (unsigned t = 0; t < layout->columns[c].n_targets; t++)
            if (layout->columns[c].targets[t].field == field)
                return true;
    return false;
}

static bool has_required(const Layout *layout, GError **error) {
    for (int f = 0; f < FIELD_STORED; f++)
        if (field_table[f].need == NEED_REQUIRED && !feeds(layout, (FieldId)f)) {
            g_set_error(error, READER_ERROR, READER_ERROR_REFUSED, "the column %s is missing",
                        field_table[f].name);
            return false;
        }
    return true;
}

Layout *layout_new(char *const *heads, unsigned n, const LogSettings *settings,
                   const Network *network, GError **error) {
    Layout *layout = g_new0(Layout, 1);
    layout->columns = g_new0(LayoutColumn, n + 1);
    layout->n_columns = n;
    layout->keeper = g_strdup(settings->recorded_by);
    layout->style = (CellStyle){settings->zone ? settings->zone : network->zone, settings->received,
                                (char)(settings->decimal ? settings->decimal : '.'),
                                (char)(settings->separator ? settings->separator : ';')};
    for (unsigned c = 0; c < n; c++)
        layout->columns[c].head = g_strdup(heads[c]);
    bool good = true;
    for (unsigned c = 0; good && c < n; c++)
        good = name_column(layout, c, error);
    if (good && has_required(layout, error))
        return layout;
    layout_free(layout);
    return NULL;
}

bool layout_knows(const char *name, void *data) {
    (void)data; // the log's mapping will be asked, too
    return field_find(name, strlen(name)) < FIELD_STORED;
}

void layout_free(Layout *layout) {
    if (!layout)
        return;
    for (unsigned c = 0; c < layout->n_columns; c++) {
        g_free(layout->columns[c].head);
        g_free(layout->columns[c].targets);
    }
    g_free(layout->columns);
    g_free(layout->keeper);
    g_free(layout);
}

uint8_t *layout_masks(const Layout *layout) {
    uint8_t *masks = g_new0(uint8_t, layout->n_columns + 1);
    for (unsigned c = 0; c < layout->n_columns; c++) {
        const LayoutColumn *column = &layout->columns[c];
        masks[c] = column->n_targets == 0 ? MASK_UNREAD : MASK_SHOWN;
        for (unsigned t = 0; t < column->n_targets; t++)
            if (column->targets[t].field == FIELD_age_band)
                masks[c] = MASK_AGE;
    }
    return masks;
}
