// SPDX-License-Identifier: GPL-3.0-or-later
// Reads mappings, and refuses one that says two things of one cell.
#include "intake/mapping.h"

#include "base/csvtable.h"
#include "base/visible.h"
#include "intake/cell.h"
#include "intake/reader.h"
#include "intake/vocabulary.h"

#include <string.h>

// The last two are what a draft of `map` says of its guesses; they are for people.
static const char *const columns[] = {"source_column", "source_value", "field",    "value", "from",
                                      "until",         "confidence",   "evidence", NULL};

// A mapping being read.
typedef struct {
    Mapping *mapping;
    const char *name;
    CsvTable *table;
    guint row;
    Transfers *pool; // units and events of values on trial
    GError **error;
} Making;

static bool fail(const Making *m, const char *column, const char *format, ...) G_GNUC_PRINTF(3, 4);

static bool fail(const Making *m, const char *column, const char *format, ...) {
    va_list list;
    va_start(list, format);
    char *why = g_strdup_vprintf(format, list);
    va_end(list);
    g_set_error(m->error, READER_ERROR, READER_ERROR_SETTING, "%s:%u: %s: %s", m->name,
                csvtable_line(m->table, m->row), column, why);
    g_free(why);
    return false;
}

// Text without case, surrounding space and what nobody sees; space, underscore and hyphen are
// alike.
static char *fold(const char *text, size_t length) {
    GString *out = g_string_new(NULL);
    bool space = false;
    char *seen = visible_copy(text, (gssize)length);
    for (const char *at = seen; *at; at = g_utf8_next_char(at)) {
        const gunichar c = g_utf8_get_char(at);
        const bool ascii = c < 0x80;
        if (ascii ? g_ascii_isspace((char)c) : g_unichar_isspace(c)) {
            space = out->len > 0;
            continue;
        }
        if (space)
            g_string_append_c(out, '-');
        space = false;
        if (ascii)
            g_string_append_c(out, c == '_' ? '-' : g_ascii_tolower((char)c));
        else
            g_string_append_unichar(out, g_unichar_tolower(c));
    }
    g_free(seen);
    return g_string_free(out, FALSE);
}

static void free_row(gpointer data) {
    g_free(((MappingRow *)data)->value);
    g_free(data);
}

static GPtrArray *new_rows(void) {
    return g_ptr_array_new_with_free_func(free_row);
}

static void free_feed(gpointer data) {
    MappingFeed *feed = data;
    g_hash_table_unref(feed->rows);
    g_hash_table_unref(feed->alike);
    g_ptr_array_unref(feed->cell);
    g_ptr_array_unref(feed->blank);
    g_ptr_array_unref(feed->other);
    g_free(feed);
}

static void free_column(gpointer data) {
    MappingColumn *column = data;
    g_free(column->name);
    g_ptr_array_unref(column->feeds);
    g_free(column);
}

static MappingFeed *new_feed(FieldId field) {
    MappingFeed *feed = g_new0(MappingFeed, 1);
    feed->field = field;
    feed->rows =
        g_hash_table_new_full(g_str_hash, g_str_equal, g_free, (GDestroyNotify)g_ptr_array_unref);
    feed->alike =
        g_hash_table_new_full(g_str_hash, g_str_equal, g_free, (GDestroyNotify)g_ptr_array_unref);
    feed->cell = new_rows();
    feed->blank = new_rows();
    feed->other = new_rows();
    return feed;
}

static MappingFeed *feed_of(MappingColumn *column, FieldId field) {
    for (guint i = 0; i < column->feeds->len; i++) {
        MappingFeed *feed = column->feeds->pdata[i];
        if (feed->field == field)
            return feed;
    }
    MappingFeed *feed = new_feed(field);
    g_ptr_array_add(column->feeds, feed);
    return feed;
}

static MappingColumn *column_of(Making *m, const char *name) {
    MappingColumn *column = g_hash_table_lookup(m->mapping->exact, name);
    if (column)
        return column;
    column = g_new0(MappingColumn, 1);
    column->name = g_strdup(name);
    column->feeds = g_ptr_array_new_with_free_func(free_feed);
    column->line = csvtable_line(m->table, m->row);
    g_ptr_array_add(m->mapping->columns, column);
    g_hash_table_insert(m->mapping->exact, column->name, column);
    // of names that are alike but not equal, the first one counts
    char *key = g_ascii_strcasecmp(name, "(blank)") ? fold(name, strlen(name)) : g_strdup("");
    if (!g_hash_table_contains(m->mapping->alike, key))
        g_hash_table_insert(m->mapping->alike, key, column);
    else
        g_free(key);
    return column;
}

static bool read_field(const Making *m, const char *name, FieldId *field) {
    *field = MAPPING_HARM;
    if (!g_ascii_strcasecmp(name, "harm"))
        return true;
    *field = field_find(name, strlen(name));
    if (*field == FIELD_COUNT)
        return fail(m, "field", "'%s' is no field", name);
    if (*field >= FIELD_STORED)
        return fail(m, "field", "'%s' is computed and never read", name);
    return true;
}

static bool read_days(const Making *m, MappingRow *row) {
    const char *from = csvtable_cell(m->table, m->row, "from");
    const char *until = csvtable_cell(m->table, m->row, "until");
    row->from = INT32_MIN;
    row->until = INT32_MAX;
    if (*from && !when_read_date(from, strlen(from), &row->from))
        return fail(m, "from", "'%s' is no date as 2031-03-09", from);
    if (*until && !when_read_date(until, strlen(until), &row->until))
        return fail(m, "until", "'%s' is no date as 2031-03-09", until);
    return row->from <= row->until || fail(m, "until", "'%s' lies before from", until);
}

static bool is_time(FieldId field) {
    return field < FIELD_STORED &&
           (field_table[field].kind == KIND_TIME || field_table[field].kind == KIND_DATE);
}

// Whether a canonical log could write the value in the field.
static bool value_fits(const Making *m, FieldId field, const char *value) {
    if (field == MAPPING_HARM)
        return field_code(&field_harm, value, strlen(value)) > 0 ||
               fail(m, "value", "'%s' is no degree of harm", value);
    if (is_time(field))
        return fail(m, "value", "a time can only be made unknown (an empty value), not '%s'",
                    value);
    const CellStyle style = {
        .received = WHEN_UNKNOWN, .zone = NULL, .decimal = '.', .separator = ';'};
    CellRecord record;
    cell_clear(&record);
    const CellFault fault = cell_read(&record, m->pool, field, 0, value, strlen(value), &style);
    if (!fault.code)
        return true;
    const FieldKind kind = field_table[field].kind;
    if (kind != KIND_CODE && kind != KIND_EVENTS)
        return fail(m, "value", "%s (%s) can't hold '%s'", field_table[field].name,
                    field_table[field].description, value);
    char *names = vocabulary_codes(field_table[field].codes);
    fail(m, "value", "%s can't hold '%s', only: %s%s", field_table[field].name, value,
         field == FIELD_events ? "none, or of " : "", names);
    g_free(names);
    return false;
}

// A row without source_value: the cell itself, or a time's date or clock.
static bool renames(const Making *m, MappingFeed *feed, const MappingRow *row) {
    const MappingPart part = !g_ascii_strcasecmp(row->value, "date")    ? MAPPING_DATE
                             : !g_ascii_strcasecmp(row->value, "clock") ? MAPPING_CLOCK
                                                                        : MAPPING_WHOLE;
    if (*row->value && part == MAPPING_WHOLE)
        return fail(m, "source_value", "is empty, so the cell itself is read and '%s' has no place",
                    row->value);
    if (part != MAPPING_WHOLE &&
        (feed->field >= FIELD_STORED || field_table[feed->field].kind != KIND_TIME))
        return fail(m, "value", "'%s' goes with a time only", row->value);
    feed->part = part;
    return true;
}

// Refuses rows for the same text whose days overlap; events add up instead.
static bool no_overlap(const Making *m, const MappingFeed *feed, const GPtrArray *rows,
                       const MappingRow *row) {
    for (guint i = 0; i < rows->len; i++) {
        const MappingRow *other = rows->pdata[i];
        if (row->from <= other->until && other->from <= row->until &&
            (feed->field != FIELD_events || rows == feed->cell))
            return fail(m, "source_value",
                        "line %u says the same cell's meaning for the same field", other->line);
    }
    return true;
}

static GPtrArray *rows_of(GHashTable *table, char *key) {
    GPtrArray *rows = g_hash_table_lookup(table, key);
    if (rows) {
        g_free(key);
        return rows;
    }
    rows = new_rows();
    g_hash_table_insert(table, key, rows);
    return rows;
}

static MappingRow *copy_row(const MappingRow *row) {
    MappingRow *copy = g_memdup2(row, sizeof *row);
    copy->value = g_strdup(row->value);
    return copy;
}

// Adds the row to the feed, under the texts that it names.
static bool add_row(const Making *m, MappingFeed *feed, const char *text, const MappingRow *row) {
    GPtrArray *rows = !*text                                     ? feed->cell
                      : !g_ascii_strcasecmp(text, "(blank)")     ? feed->blank
                      : !g_ascii_strcasecmp(text, "(any other)") ? feed->other
                                                                 : NULL;
    const bool named = !rows;
    if (named)
        rows = rows_of(feed->rows, g_strdup(text));
    if (rows == feed->cell && !renames(m, feed, row))
        return false;
    if (!no_overlap(m, feed, rows, row))
        return false;
    if (rows != feed->cell && *row->value && !value_fits(m, feed->field, row->value))
        return false;
    g_ptr_array_add(rows, copy_row(row));
    if (named) { // of texts that are alike but not equal, the first one counts
        char *key = fold(text, strlen(text));
        GPtrArray *alike = g_hash_table_lookup(feed->alike, key);
        if (!alike)
            g_hash_table_insert(feed->alike, key, g_ptr_array_ref(rows));
        else
            g_free(key);
    }
    return true;
}

// A cell without blanks at its ends and what nobody sees.
static char *seen(const Making *m, const char *column) {
    return g_strstrip(visible_copy(csvtable_cell(m->table, m->row, column), -1));
}

static bool read_row(Making *m) {
    char *text = seen(m, "source_value");
    char *value = seen(m, "value");
    char *name = seen(m, "source_column");
    const char *field_name = csvtable_cell(m->table, m->row, "field");
    MappingRow row = {.value = value, .line = csvtable_line(m->table, m->row)};
    FieldId field;
    bool good = true;
    if (!*name) {
        if (*text || *value || *field_name)
            good = fail(m, "source_column", "is empty");
    } else if (!*field_name) {
        if (*text || *value)
            good = fail(m, "field", "is empty, so '%s' is skipped unread and has no values", name);
        else
            column_of(m, name)->ignored = true;
    } else if ((good = read_field(m, field_name, &field) && read_days(m, &row))) {
        MappingFeed *feed = feed_of(column_of(m, name), field);
        const bool dated = row.from != INT32_MIN || row.until != INT32_MAX;
        feed->dated = feed->dated || dated;
        if (dated && is_time(field))
            good = fail(m, "from", "the day of a record is not known before its times");
        good = good && add_row(m, feed, text, &row);
    }
    g_free(text);
    g_free(value);
    g_free(name);
    return good;
}

// A column is ignored or feeds something, not both.
static bool no_contradiction(const Making *m) {
    for (guint i = 0; i < m->mapping->columns->len; i++) {
        const MappingColumn *column = m->mapping->columns->pdata[i];
        if (column->ignored && column->feeds->len > 0) {
            g_set_error(m->error, READER_ERROR, READER_ERROR_SETTING,
                        "%s:%u: source_column: '%s' is skipped unread by one row and read by "
                        "another",
                        m->name, column->line, column->name);
            return false;
        }
    }
    return true;
}

static bool make(Making *m) {
    for (const char *const *c = columns; *c; c++)
        if ((!strcmp(*c, "source_column") || !strcmp(*c, "field")) && !csvtable_has(m->table, *c)) {
            g_set_error(m->error, READER_ERROR, READER_ERROR_SETTING,
                        "%s:1: the column %s is missing", m->name, *c);
            return false;
        }
    bool good = true;
    for (m->row = 0; good && m->row < csvtable_rows(m->table); m->row++)
        good = read_row(m);
    return good && no_contradiction(m);
}

// Takes the table over; why says what is wrong with it if it is NULL.
static Mapping *from_table(const char *name, CsvTable *table, GError *why, GError **error) {
    if (!table) {
        const bool wrong = g_error_matches(why, G_FILE_ERROR, G_FILE_ERROR_INVAL) ||
                           g_error_matches(why, G_FILE_ERROR, G_FILE_ERROR_NOENT);
        g_set_error_literal(error, READER_ERROR, wrong ? READER_ERROR_SETTING : READER_ERROR_INPUT,
                            why->message);
        g_error_free(why);
        return NULL;
    }
    Making m = {.mapping = g_new0(Mapping, 1),
                .name = name,
                .table = table,
                .pool = transfers_new(),
                .error = error};
    m.mapping->columns = g_ptr_array_new_with_free_func(free_column);
    m.mapping->exact = g_hash_table_new(g_str_hash, g_str_equal);
    m.mapping->alike = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    if (!make(&m))
        g_clear_pointer(&m.mapping, mapping_free);
    transfers_free(m.pool);
    csvtable_free(table);
    return m.mapping;
}

Mapping *mapping_read(const char *path, GError **error) {
    GError *why = NULL;
    CsvTable *table = csvtable_read(path, columns, &why);
    return from_table(path, table, why, error);
}

Mapping *mapping_parse(const char *name, const char *text, gsize length, GError **error) {
    GError *why = NULL;
    CsvTable *table = csvtable_parse(name, text, length, columns, &why);
    return from_table(name, table, why, error);
}

void mapping_free(Mapping *mapping) {
    if (!mapping)
        return;
    g_hash_table_unref(mapping->exact);
    g_hash_table_unref(mapping->alike);
    g_ptr_array_unref(mapping->columns);
    g_free(mapping);
}

const MappingColumn *mapping_column(const Mapping *mapping, const char *heading) {
    const MappingColumn *found = g_hash_table_lookup(mapping->exact, heading);
    if (found)
        return found;
    char *key = fold(heading, strlen(heading));
    found = g_hash_table_lookup(mapping->alike, key);
    g_free(key);
    return found;
}

const GPtrArray *mapping_find(const MappingFeed *feed, const char *text, size_t length,
                              bool *other) {
    *other = false;
    const GPtrArray *rows = NULL;
    if (length > 0 && g_ascii_isgraph(*text) && g_hash_table_size(feed->rows) == 0) {
        *other = true; // nothing to look the text up in
        return feed->other;
    }
    char *key = fold(text, length);
    if (!*key) {
        rows = feed->blank;
    } else {
        char *exact = g_strndup(text, length);
        rows = g_hash_table_lookup(feed->rows, g_strstrip(exact));
        g_free(exact);
        if (!rows)
            rows = g_hash_table_lookup(feed->alike, key);
        if (!rows) {
            rows = feed->other;
            *other = true;
        }
    }
    g_free(key);
    return rows;
}

bool mapping_holds(const MappingRow *row, int32_t day) {
    return row->from <= day && day <= row->until;
}

bool mapping_any_holds(const GPtrArray *rows, int32_t day) {
    for (guint i = 0; i < rows->len; i++)
        if (mapping_holds(rows->pdata[i], day))
            return true;
    return false;
}
