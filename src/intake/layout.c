// SPDX-License-Identifier: GPL-3.0-or-later
// A heading -> what each column feeds.
#include "intake/layout.h"

#include "base/clip.h"
#include "base/visible.h"
#include "intake/mask.h"
#include "intake/refusal.h"
#include "intake/vocabulary.h"

#include <string.h>

enum { MOST_LISTED = 6 }; // columns that a refusal names

// What is known of a column before the layout is made of it.
typedef struct {
    const MappingColumn *mapped; // NULL: the mapping does not name it
    FieldId named;               // FIELD_STORED or more: no field is called so
} Source;

enum { HEAD_SHOWN = 40 }; // characters of a heading in a message

// Adds a column that nothing names to their list; its heading is shown unless it may say who a
// person is.
static void list_unnamed(GString *list, const char *head, unsigned column) {
    g_string_append_printf(list, "%scolumn %u", list->len ? ", " : "", column);
    if (!*head)
        g_string_append(list, " (no heading)");
    if (!*head || !guard_may_show(head, strlen(head)))
        return;
    char *shown = clip_text(head, HEAD_SHOWN);
    g_string_append_printf(list, " ('%s')", shown);
    g_free(shown);
}

// Refuses columns that nothing names, all at once.
static bool all_named(const Layout *layout, const Source *sources, GError **error) {
    GString *list = g_string_new(NULL);
    unsigned n = 0;
    for (unsigned c = 0; c < layout->n_columns; c++)
        if (!sources[c].mapped && sources[c].named >= FIELD_STORED && n++ < MOST_LISTED)
            list_unnamed(list, layout->columns[c].head, c + 1);
    if (n > MOST_LISTED)
        g_string_append_printf(list, " and %u more", n - MOST_LISTED);
    const bool good =
        n == 0 ||
        refusal_set(
            error,
            "%s %s, and no mapping names %s\nsuch a column may hold what nobody should read: "
            "name it in a mapping, as `crossward map` drafts it (an empty field skips it "
            "unread)",
            list->str, n == 1 ? "is no field" : "are no fields", n == 1 ? "it" : "them");
    g_string_free(list, TRUE);
    return good;
}

// Refuses two columns of one heading, or named after one field.
static bool none_twice(const Layout *layout, const Source *sources, GError **error) {
    for (unsigned c = 0; c < layout->n_columns; c++)
        for (unsigned b = 0; b < c; b++) {
            const Source *x = &sources[b], *y = &sources[c];
            if (x->mapped && x->mapped == y->mapped && !x->mapped->ignored)
                return refusal_set(error, "columns %u and %u are both headed '%s'", b + 1, c + 1,
                                   x->mapped->name);
            if (!x->mapped && !y->mapped && x->named == y->named)
                return refusal_set(error, "columns %u and %u are both %s", b + 1, c + 1,
                                   field_table[x->named].name);
        }
    return true;
}

// Whether a field has few different texts, and their reading depends on nothing else.
static bool has_few(FieldId f) {
    if (f == MAPPING_HARM)
        return false;
    const FieldKind kind = field_table[f].kind;
    return kind == KIND_CODE || kind == KIND_UNIT || kind == KIND_EVENTS;
}

static void add_targets(LayoutColumn *column, const Source *source) {
    if (!source->mapped) {
        column->n_targets = 1;
        column->targets = g_new0(LayoutTarget, 1);
        column->targets[0].field = source->named;
        column->targets[0].few = has_few(source->named);
        return;
    }
    column->n_targets = source->mapped->feeds->len;
    column->targets = g_new0(LayoutTarget, column->n_targets + 1);
    unsigned dates = 0;
    for (unsigned t = 0; t < column->n_targets; t++) {
        const MappingFeed *feed = source->mapped->feeds->pdata[t];
        column->targets[t] = (LayoutTarget){.field = feed->field,
                                            .part = feed->part,
                                            .feed = feed,
                                            .dated = feed->dated,
                                            .few = has_few(feed->field) && !feed->dated};
        column->reads_blank = column->reads_blank || feed->blank->len > 0;
        dates += feed->part == MAPPING_DATE;
    }
    for (unsigned t = 0; t < column->n_targets; t++)
        column->targets[t].shared = dates > 1 && column->targets[t].part == MAPPING_DATE;
}

// Finds what feeds each field, and which fields have several columns.
static void index_fields(Layout *layout) {
    unsigned whole[FIELD_STORED + 1] = {0};
    bool dates_only[FIELD_STORED] = {false};
    for (unsigned c = 0; c < layout->n_columns; c++)
        for (unsigned t = 0; t < layout->columns[c].n_targets; t++) {
            const LayoutTarget *target = &layout->columns[c].targets[t];
            whole[target->field] += target->part == MAPPING_WHOLE;
            if (target->field == MAPPING_HARM)
                continue;
            uint32_t *column = &layout->column_of[target->field];
            if (*column == 0 || (dates_only[target->field] && target->part != MAPPING_DATE))
                *column = c + 1;
            dates_only[target->field] = *column == c + 1 && target->part == MAPPING_DATE;
        }
    for (unsigned c = 0; c < layout->n_columns; c++)
        for (unsigned t = 0; t < layout->columns[c].n_targets; t++) {
            LayoutColumn *column = &layout->columns[c];
            LayoutTarget *target = &column->targets[t];
            target->several = target->part == MAPPING_WHOLE && whole[target->field] > 1;
            column->few = column->few || target->few;
            const bool one = column->n_targets == 1 && !target->several;
            column->alone = one && target->few;
            column->stamp = one && !target->feed && target->part == MAPPING_WHOLE &&
                            target->field < FIELD_STORED &&
                            field_table[target->field].kind == KIND_TIME;
        }
}

static bool has_required(const Layout *layout, const LogSettings *settings, GError **error) {
    for (int f = 0; f < FIELD_STORED; f++)
        if (field_table[f].need == NEED_REQUIRED && layout->column_of[f] == 0)
            return settings->mapping
                       ? refusal_set(
                             error,
                             "no column feeds %s; for a log of one unit's own transfers, map "
                             "`(any other)` and `(blank)` of any column to its code",
                             field_table[f].name)
                       : refusal_set(error, "the column %s is missing", field_table[f].name);
    return true;
}

static void add_caps(CellStyle *style, const Network *network) {
    for (int from = 0; from < FIELD_STORED; from++)
        for (int to = 0; to < FIELD_STORED; to++) {
            const int32_t cap = network_cap(network, (FieldId)from, (FieldId)to);
            if (cap != INT32_MAX && style->n_caps < G_N_ELEMENTS(style->caps))
                style->caps[style->n_caps++] = (CellCap){(FieldId)from, (FieldId)to, cap};
        }
}

static void set_style(Layout *layout, const LogSettings *settings, const Network *network) {
    layout->style =
        (CellStyle){.zone = settings->zone ? settings->zone : network->zone,
                    .received = settings->received,
                    .decimal = (char)(settings->decimal ? settings->decimal : '.'),
                    .separator = (char)(settings->separator ? settings->separator : ';'),
                    .stamp = {.order = settings->date_order,
                              .century_pivot = settings->century_pivot,
                              .serial_base = settings->serial_base ? settings->serial_base : 1900},
                    .date_serials = settings->serial_base != 0,
                    .mapped = settings->mapping != NULL};
    add_caps(&layout->style, network);
    layout->plain = (CellStyle){.zone = layout->style.zone,
                                .received = WHEN_UNKNOWN,
                                .decimal = '.',
                                .separator = ';',
                                .stamp = {.century_pivot = -1, .serial_base = 1900}};
}

// Columns of the mapping that no heading matched.
static void list_absent(Layout *layout, const Source *sources, const Mapping *mapping) {
    for (guint i = 0; mapping && i < mapping->columns->len; i++) {
        const MappingColumn *column = mapping->columns->pdata[i];
        bool there = false;
        for (unsigned c = 0; c < layout->n_columns; c++)
            there = there || sources[c].mapped == column;
        if (!there)
            g_ptr_array_add(layout->absent, g_strdup(column->name));
    }
}

static void add_keys(GHashTable *words, GHashTable *table) {
    GHashTableIter iter;
    gpointer key;
    g_hash_table_iter_init(&iter, table);
    while (g_hash_table_iter_next(&iter, &key, NULL))
        vocabulary_add_words(words, key);
}

// Words that somebody wrote down for all to read, so that they name no patient.
static GHashTable *known_words(const Mapping *mapping, GHashTable *units) {
    GHashTable *words = vocabulary_words();
    for (guint c = 0; mapping && c < mapping->columns->len; c++) {
        const MappingColumn *column = mapping->columns->pdata[c];
        vocabulary_add_words(words, column->name);
        for (guint f = 0; f < column->feeds->len; f++)
            add_keys(words, ((const MappingFeed *)column->feeds->pdata[f])->rows);
    }
    if (units)
        add_keys(words, units);
    return words;
}

Layout *layout_new(char *const *heads, unsigned n, const LogSettings *settings,
                   const Network *network, GError **error) {
    Layout *layout = g_new0(Layout, 1);
    Source *sources = g_new0(Source, n + 1);
    layout->columns = g_new0(LayoutColumn, n + 1);
    layout->n_columns = n;
    layout->keeper = g_strdup(settings->recorded_by);
    layout->network_zone = network->zone;
    layout->absent = g_ptr_array_new_with_free_func(g_free);
    layout->words = known_words(settings->mapping, network->units);
    set_style(layout, settings, network);
    for (unsigned c = 0; c < n; c++) {
        const char *head = layout->columns[c].head = visible_copy(heads[c], -1);
        sources[c].mapped = settings->mapping ? mapping_column(settings->mapping, head) : NULL;
        sources[c].named = field_find(head, strlen(head));
    }
    bool good = all_named(layout, sources, error) && none_twice(layout, sources, error);
    if (good) {
        for (unsigned c = 0; c < n; c++)
            add_targets(&layout->columns[c], &sources[c]);
        index_fields(layout);
        list_absent(layout, sources, settings->mapping);
        good = has_required(layout, settings, error);
    }
    g_free(sources);
    if (good)
        return layout;
    layout_free(layout);
    return NULL;
}

bool layout_knows(const char *name, void *data) {
    const LogSettings *settings = data;
    char *head = visible_copy(name, -1);
    const bool knows = field_find(head, strlen(head)) < FIELD_STORED ||
                       (*head && settings->mapping && mapping_column(settings->mapping, head));
    g_free(head);
    return knows;
}

bool layout_heads(const LayoutColumn *column, const char *text, size_t length) {
    char *seen = visible_only(text, (gssize)length);
    const bool same = seen ? strcmp(column->head, seen) == 0
                           : strlen(column->head) == length && !memcmp(column->head, text, length);
    g_free(seen);
    return same;
}

char *layout_identifier(const Layout *layout, const GuardColumn *guard, uint32_t *line) {
    GuardKind kind = GUARD_NONE;
    unsigned c = 0;
    for (; c < layout->n_columns; c++) {
        const LayoutColumn *column = &layout->columns[c];
        kind = guard ? guard_verdict(&guard[c], line)
                     : guard_heading(column->head, strlen(column->head));
        if (kind != GUARD_NONE && (guard || column->n_targets > 0))
            break;
    }
    if (c == layout->n_columns)
        return NULL;
    char *head = clip_text(layout->columns[c].head, LAYOUT_HEAD_SHOWN);
    char *why = g_strdup_printf(
        "column %u, '%s', seems to hold %s (first here); take them out of the log, or skip the "
        "column unread with the mapping row \"%s\",,,",
        c + 1, head, guard_word(kind), head);
    g_free(head);
    return why;
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
    g_ptr_array_unref(layout->absent);
    g_hash_table_unref(layout->words);
    g_free(layout);
}

uint8_t *layout_masks(const Layout *layout) {
    uint8_t *masks = g_new0(uint8_t, layout->n_columns + 1);
    for (unsigned c = 0; c < layout->n_columns; c++) {
        const LayoutColumn *column = &layout->columns[c];
        masks[c] = column->n_targets == 0 ? MASK_UNREAD : MASK_SHOWN;
        bool unit = column->n_targets > 0, age = false;
        for (unsigned t = 0; t < column->n_targets; t++) {
            const FieldId f = column->targets[t].field;
            age = age || f == FIELD_age_band;
            unit = unit && f != MAPPING_HARM && field_table[f].kind == KIND_UNIT;
        }
        masks[c] = unit ? MASK_UNIT : age ? MASK_AGE : masks[c];
    }
    return masks;
}
