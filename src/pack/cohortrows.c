// SPDX-License-Identifier: GPL-3.0-or-later
// One row a transfer, column by column in the order of the field table.
#include "pack/cohortrows.h"

#include <math.h>
#include <string.h>

enum { DATE_LENGTH = 10, STAMP_LENGTH = 16, MONTH_LENGTH = 7 };

static int by_text(gconstpointer a, gconstpointer b) {
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

// Units of the used transfers and of units.csv, by the bytes of their codes.
static void write_units(SqlWriter *w, const Transfers *t, GHashTable *named) {
    GPtrArray *units = g_ptr_array_new();
    uint8_t *seen = g_malloc0(t->units->len);
    for (int f = 0; f < FIELD_STORED; f++)
        for (size_t i = 0; field_table[f].kind == KIND_UNIT && t->column[f] && i < t->n; i++)
            seen[transfers_units(t, (FieldId)f)[i]] = 1;
    for (guint u = 1; u < t->units->len; u++)
        if (seen[u] && !(named && g_hash_table_contains(named, t->units->pdata[u])))
            g_ptr_array_add(units, t->units->pdata[u]);
    GHashTableIter each;
    gpointer code;
    if (named)
        g_hash_table_iter_init(&each, named);
    while (named && g_hash_table_iter_next(&each, &code, NULL))
        g_ptr_array_add(units, code);
    g_ptr_array_sort(units, by_text);
    sqlwriter_table(w, "units", "unit, name");
    for (guint u = 0; u < units->len; u++) {
        const char *name = named ? g_hash_table_lookup(named, units->pdata[u]) : NULL;
        sqlwriter_text(w, units->pdata[u]);
        sqlwriter_text(w, name && *name ? name : NULL);
        sqlwriter_add(w);
    }
    g_free(seen);
    g_ptr_array_unref(units);
}

static void put_digits(char *at, int value, int digits) {
    while (digits-- > 0) {
        at[digits] = (char)('0' + value % 10);
        value /= 10;
    }
}

// 2031-03-09; a day that repeats costs nothing.
typedef struct {
    int32_t day;
    char text[DATE_LENGTH];
} DayText;

static void write_day(DayText *last, int32_t day, char *text) {
    if (day != last->day) {
        int y, m, d;
        when_civil(day, &y, &m, &d);
        put_digits(last->text, y, 4);
        put_digits(last->text + 5, m, 2);
        put_digits(last->text + 8, d, 2);
        last->text[4] = last->text[7] = '-';
        last->day = day;
    }
    memcpy(text, last->text, DATE_LENGTH);
}

// 2031-03-09T14:05, local.
static void write_stamp(DayText *last, int32_t local, char *text) {
    const int32_t day = when_day_of(local), minute = local - day * WHEN_DAY;
    write_day(last, day, text);
    text[10] = 'T';
    put_digits(text + 11, minute / 60, 2);
    text[13] = ':';
    put_digits(text + 14, minute % 60, 2);
}

// A list of events as a log writes it; "none" for an empty one.
static char *list_text(const Transfers *t, uint32_t list) {
    const uint32_t *starts = (const uint32_t *)(void *)t->event_starts->data;
    const Event *events = (const Event *)(void *)t->events->data;
    const CodeList *categories = field_table[FIELD_events].codes;
    GString *text = g_string_new(NULL);
    for (uint32_t e = starts[list]; e < starts[list + 1]; e++) {
        g_string_append_printf(text, "%s%s", text->len ? ";" : "",
                               field_code_text(categories, events[e].category));
        if (events[e].harm)
            g_string_append_printf(text, ":%s", field_code_text(&field_harm, events[e].harm));
    }
    if (text->len == 0)
        g_string_append(text, "none");
    return g_string_free(text, FALSE);
}

typedef struct {
    SqlWriter *w;
    const CountData *data;
    GPtrArray *lists;                      // char *: texts of the lists of events, by index
    int *length[FIELD_COUNT];              // of the texts of codes or units, by value
    char stamp[FIELD_COUNT][STAMP_LENGTH]; // texts of the row in hand
    DayText day;
} Rows;

static const char *value_text(const Transfers *t, FieldId f, unsigned value) {
    return field_table[f].kind == KIND_UNIT ? t->units->pdata[value]
                                            : field_code_text(field_table[f].codes, value);
}

static void bind_time(Rows *r, FieldId f, size_t i) {
    const int32_t at = transfers_times(r->data->t, f)[i];
    if (at == WHEN_UNKNOWN) {
        sqlwriter_null(r->w);
        sqlwriter_null(r->w);
        return;
    }
    write_stamp(&r->day, when_to_local(r->data->network->zone, at), r->stamp[f]);
    sqlwriter_bytes(r->w, r->stamp[f], STAMP_LENGTH);
    sqlwriter_integer(r->w, (gint64)at * 60);
}

static void bind_date(Rows *r, FieldId f, size_t i) {
    const int32_t day = transfers_date(r->data->t, f, i);
    if (day != WHEN_UNKNOWN)
        write_day(&r->day, day, r->stamp[f]);
    sqlwriter_bytes(r->w, day == WHEN_UNKNOWN ? NULL : r->stamp[f], DATE_LENGTH);
}

static void bind_field(Rows *r, FieldId f, size_t i) {
    const Transfers *t = r->data->t;
    const FieldKind kind = field_table[f].kind;
    uint64_t id;
    unsigned value;
    if (!t->column[f]) { // no log carries it
        sqlwriter_null(r->w);
        if (kind == KIND_TIME)
            sqlwriter_null(r->w);
        return;
    }
    switch (kind) {
    case KIND_ID:
        id = ((const uint64_t *)t->column[f])[i];
        if (id)
            sqlwriter_integer(r->w, (gint64)id);
        else
            sqlwriter_null(r->w);
        break;
    case KIND_UNIT:
    case KIND_CODE:
        value = count_value(t, f, i);
        sqlwriter_bytes(r->w, value ? value_text(t, f, value) : NULL, r->length[f][value]);
        break;
    case KIND_DATE:
        bind_date(r, f, i);
        break;
    case KIND_TIME:
        bind_time(r, f, i);
        break;
    case KIND_EVENTS:
        value = ((const uint32_t *)t->column[f])[i];
        sqlwriter_text(r->w, value ? r->lists->pdata[value] : NULL);
        break;
    case KIND_NUMBER:
        sqlwriter_real(r->w, ((const double *)t->column[f])[i]);
        break;
    }
}

static char *column_names(void) {
    GString *names = g_string_new("transfer, input, line, other_input, other_line, day, month");
    for (int f = 0; f < FIELD_COUNT; f++) {
        g_string_append_printf(names, ", %s", field_table[f].name);
        if (field_table[f].kind == KIND_TIME)
            g_string_append_printf(names, ", %s_epoch", field_table[f].name);
    }
    return g_string_free(names, FALSE);
}

static void prepare(Rows *r) {
    const Transfers *t = r->data->t;
    r->day.day = WHEN_UNKNOWN;
    r->lists = g_ptr_array_new_with_free_func(g_free);
    for (guint l = 0; l + 1 < t->event_starts->len; l++)
        g_ptr_array_add(r->lists, list_text(t, l));
    for (int f = 0; f < FIELD_COUNT; f++) {
        const bool unit = field_table[f].kind == KIND_UNIT;
        if (!unit && field_table[f].kind != KIND_CODE)
            continue;
        const unsigned n = unit ? t->units->len : field_table[f].codes->n + 1;
        r->length[f] = g_new0(int, n);
        for (unsigned v = 1; v < n; v++)
            r->length[f][v] = (int)strlen(value_text(t, (FieldId)f, v));
    }
}

static void bind_other_end(Rows *r, size_t i) {
    const Transfers *t = r->data->t;
    if (t->other_line && t->other_line[i]) {
        sqlwriter_integer(r->w, t->other_file[i] + 1);
        sqlwriter_integer(r->w, t->other_line[i]);
    } else {
        sqlwriter_null(r->w);
        sqlwriter_null(r->w);
    }
}

static void write_transfers(Rows *r) {
    char *names = column_names(), day[DATE_LENGTH];
    sqlwriter_table(r->w, "transfers", names);
    for (size_t i = 0; i < r->data->t->n; i++) {
        write_day(&r->day, transfers_day(r->data->t, i, r->data->network), day);
        sqlwriter_integer(r->w, (gint64)i + 1);
        sqlwriter_integer(r->w, r->data->t->file[i] + 1);
        sqlwriter_integer(r->w, r->data->t->line[i]);
        bind_other_end(r, i);
        sqlwriter_bytes(r->w, day, DATE_LENGTH);
        sqlwriter_bytes(r->w, day, MONTH_LENGTH);
        for (int f = 0; f < FIELD_COUNT; f++)
            bind_field(r, (FieldId)f, i);
        sqlwriter_add(r->w);
    }
    g_free(names);
}

static void write_events(SqlWriter *w, const Transfers *t) {
    const CodeList *categories = field_table[FIELD_events].codes;
    sqlwriter_table(w, "events", "transfer, number, category, harm");
    for (size_t i = 0; t->column[FIELD_events] && i < t->n; i++) {
        size_t n;
        const Event *events = transfers_events_of(t, i, &n);
        for (size_t e = 0; e < n; e++) {
            sqlwriter_integer(w, (gint64)i + 1);
            sqlwriter_integer(w, (gint64)e + 1);
            sqlwriter_text(w, field_code_text(categories, events[e].category));
            sqlwriter_text(w, events[e].harm ? field_code_text(&field_harm, events[e].harm) : NULL);
            sqlwriter_add(w);
        }
    }
}

void cohortrows_write(SqlWriter *w, const CountData *data) {
    Rows r = {.w = w, .data = data};
    write_units(w, data->t, data->network->units);
    prepare(&r);
    write_transfers(&r);
    write_events(w, data->t);
    for (int f = 0; f < FIELD_COUNT; f++)
        g_free(r.length[f]);
    g_ptr_array_unref(r.lists);
}
