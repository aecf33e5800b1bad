// SPDX-License-Identifier: GPL-3.0-or-later
// Cells of a raw row, found by its delimiters and quotes alone, so that broken rows can be copied
// too.
#include "intake/mask.h"

#include "intake/guard.h"
#include "intake/show.h"

#include <string.h>

// End of the cell that starts at text[from]: its delimiter, or n. *open: a quote is not closed.
static size_t cell_end(const char *text, size_t n, size_t from, char delimiter, bool *open) {
    bool quoted = false;
    size_t i = from;
    for (; i < n && (quoted || text[i] != delimiter); i++)
        quoted ^= text[i] == '"';
    *open = quoted;
    return i;
}

static void append_cell(GString *out, const char *cell, size_t n, MaskColumn how,
                        GHashTable *words) {
    const char *inner = cell;
    size_t length = n;
    while (length > 0 && strchr(" \t\"", *inner))
        inner++, length--;
    while (length > 0 && strchr(" \t\"", inner[length - 1]))
        length--;
    if (how == MASK_UNREAD)
        g_string_append(out, "[not read]");
    else if ((how == MASK_UNIT ? !guard_may_show(inner, length)
                               : !show_copied(inner, length, words)) ||
             (how == MASK_AGE && show_old_age(inner, length)))
        g_string_append(out, "[masked]");
    else
        g_string_append_len(out, cell, (gssize)n);
}

// How the cell at position `at` of a row with `cells` cells may be copied.
static MaskColumn how(const uint8_t *columns, unsigned n_columns, unsigned cells, unsigned at,
                      bool broken) {
    const unsigned fewer = cells < n_columns ? n_columns - cells : 0;
    const unsigned more = cells > n_columns ? cells - n_columns : 0;
    MaskColumn strictest = fewer + more == 0 && at < n_columns ? columns[at] : MASK_SHOWN;
    for (unsigned c = 0; c < n_columns; c++) {
        if (!broken && (at + fewer < c || at > c + more))
            continue;
        if (columns[c] == MASK_UNREAD)
            return MASK_UNREAD;
        if (columns[c] == MASK_AGE)
            strictest = MASK_AGE;
    }
    return strictest;
}

char *mask_row(const char *text, size_t n, char delimiter, const uint8_t *columns,
               unsigned n_columns, GHashTable *words, bool record) {
    while (n > 0 && (text[n - 1] == '\n' || text[n - 1] == '\r'))
        n--;
    unsigned cells = 0;
    bool broken = false;
    for (size_t from = 0; from <= n; from = cell_end(text, n, from, delimiter, &broken) + 1)
        cells++;
    GString *out = g_string_new(NULL);
    size_t from = 0;
    for (unsigned at = 0; from <= n; at++) {
        bool open;
        const size_t end = cell_end(text, n, from, delimiter, &open);
        MaskColumn column = how(columns, n_columns, cells, at, broken);
        if (column == MASK_UNIT && (!record || broken || cells != n_columns))
            column = MASK_SHOWN;
        append_cell(out, text + from, end - from, column, words);
        if (end < n)
            g_string_append_c(out, delimiter);
        from = end + 1;
    }
    return g_string_free(out, FALSE);
}
