// SPDX-License-Identifier: GPL-3.0-or-later
// The reader: libcsv fed line by line, so that each record knows the physical line it starts on.
#include "intake/reader.h"

#include "intake/cell.h"

#include <csv.h>
#include <errno.h>
#include <openssl/evp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

G_DEFINE_QUARK(crossward - reader, reader_error)

typedef struct {
    Input *input;
    uint16_t file;
    const Network *network;
    Transfers *t;
    Findings *findings;
    WhenZone *own_zone; // of the log's settings, or NULL
    const WhenZone *zone;
    uint16_t keeper;
    GString *raw;         // bytes of the record being read
    GPtrArray *heading;   // char *, NULL until read
    FieldId *fields;      // by column
    uint32_t line;        // of the record's start
    uint32_t column;      // cells of this record so far
    bool repeats_heading; // every cell so far equals its heading
    CellRecord record;
    GError *error;
} Reader;

static void note(Reader *r, uint32_t column, int field, Severity severity, const char *code,
                 const char *message, const char *found, size_t length) {
    const Finding f = {r->file, r->line, column, field, severity, code, NULL, message};
    finding_add(r->findings, &f, found, length);
}

static void put_aside(Reader *r, const char *code, const char *message) {
    gsize n = r->raw->len;
    while (n > 0 && (r->raw->str[n - 1] == '\n' || r->raw->str[n - 1] == '\r'))
        n--;
    finding_put_aside(r->findings, r->file, r->line, code, message, g_strndup(r->raw->str, n));
    note(r, 0, FIELD_COUNT, SEVERITY_SEVERE, code, message, NULL, 0);
}

static void refuse(Reader *r, uint32_t line, const char *why) {
    if (!r->error)
        g_set_error(&r->error, READER_ERROR, READER_ERROR_REFUSED, "%s:%u: %s", r->input->name,
                    line, why);
}

static void on_cell(void *text, size_t length, void *data) {
    Reader *r = data;
    const uint32_t column = r->column++;
    if (r->error) // a refused heading names fields that there are not
        return;
    if (!r->fields) {
        g_ptr_array_add(r->heading, g_strndup(text ? text : "", length));
        return;
    }
    if (column >= r->heading->len)
        return;
    const char *head = r->heading->pdata[column];
    r->repeats_heading =
        r->repeats_heading && strlen(head) == length && memcmp(head, text, length) == 0;
    const FieldId f = r->fields[column];
    const CellFault fault =
        cell_read(&r->record, r->t, f, column + 1, text, length, r->zone, r->input->received);
    if (fault.code) {
        const FieldKind kind = field_table[f].kind;
        const bool show =
            kind == KIND_CODE || kind == KIND_TIME || kind == KIND_DATE || kind == KIND_NUMBER;
        note(r, column + 1, (int)f, SEVERITY_LOST, fault.code, fault.message, show ? text : NULL,
             length);
    }
}

static void read_heading(Reader *r) {
    r->fields = g_new(FieldId, r->heading->len + 1);
    for (guint c = 0; c < r->heading->len; c++) {
        const char *head = r->heading->pdata[c];
        const FieldId f = field_find(head, strlen(head));
        r->fields[c] = f;
        char *why = NULL;
        if (f >= FIELD_STORED)
            why = g_strdup_printf(
                "column %u, '%.40s', is no field, and no mapping names it: it may hold what nobody "
                "should read; name it in a mapping (an empty field skips it unread)",
                c + 1, head);
        for (guint b = 0; !why && b < c; b++)
            if (r->fields[b] == f)
                why = g_strdup_printf("columns %u and %u are both %s", b + 1, c + 1,
                                      field_table[f].name);
        if (why)
            refuse(r, r->line, why);
        g_free(why);
    }
    for (int f = 0; f < FIELD_STORED; f++) {
        bool there = field_table[f].need != NEED_REQUIRED;
        for (guint c = 0; c < r->heading->len; c++)
            there = there || (int)r->fields[c] == f;
        if (!there)
            refuse(r, r->line, "the column sending_unit is missing");
    }
}

static const char *missing(const Draft *d) {
    if (d->value[FIELD_sending_unit] == 0)
        return "no-sending-unit";
    if (d->value[FIELD_requested_at] == WHEN_UNKNOWN &&
        d->value[FIELD_transfer_date] == WHEN_UNKNOWN &&
        d->value[FIELD_departed_at] == WHEN_UNKNOWN)
        return "no-date";
    return NULL;
}

static void keep_record(Reader *r) {
    Draft *d = &r->record.draft;
    if (d->value[FIELD_recorded_by] == 0)
        d->value[FIELD_recorded_by] = r->keeper;
    const uint8_t outcome = (uint8_t)d->value[FIELD_outcome];
    if (d->value[FIELD_departed_at] != WHEN_UNKNOWN && outcome >= CODE_outcome_STOOD_DOWN)
        note(r, 0, FIELD_outcome, SEVERITY_LOST, "departed-and-not",
             "has a departure and an outcome that did not depart; how it ended is taken as unknown",
             NULL, 0);
    d->file = r->file;
    d->line = r->line;
    if (!transfers_add(r->t, d) && !r->error)
        g_set_error(&r->error, READER_ERROR, READER_ERROR_INPUT,
                    "%s:%u: out of memory after %zu transfers", r->input->name, r->line, r->t->n);
}

static void end_record(Reader *r) {
    r->input->rows++;
    if (r->repeats_heading && r->column == r->heading->len) {
        put_aside(r, "heading", "the heading again, no record");
        return;
    }
    if (r->column != r->heading->len) {
        put_aside(r, "ragged", "has not as many cells as the heading");
        return;
    }
    const CellTwice *twice = r->record.twice;
    const unsigned lost = r->record.n_twice ? cell_settle(&r->record) : 0;
    for (unsigned i = 0; i < r->record.n_twice; i++)
        note(r, twice[i].column, (int)twice[i].field, lost ? SEVERITY_LOST : SEVERITY_REPAIR,
             lost ? "time-twice" : "time-settled",
             lost ? "this local time came twice, the clocks went back; taken as unknown"
                  : "this local time came twice; the order of the stamps decides which",
             NULL, 0);
    const char *without = missing(&r->record.draft);
    const int64_t *v = r->record.draft.value;
    if (without)
        put_aside(r, without,
                  *without == 'n' && without[3] == 's' ? "names no sending unit"
                                                       : "has neither request, date nor departure");
    else if (v[FIELD_sending_unit] == v[FIELD_receiving_unit])
        put_aside(r, "same-unit",
                  "sending and receiving unit are the same, so no transfer between units");
    else
        keep_record(r);
}

static void on_row(int c, void *data) {
    (void)c;
    Reader *r = data;
    if (!r->fields)
        read_heading(r);
    else if (!r->error)
        end_record(r);
    r->column = 0;
    r->repeats_heading = true;
    transfers_clear_draft(&r->record.draft);
    r->record.n_twice = 0;
}

static void restart(struct csv_parser *p) {
    csv_free(p);
    if (csv_init(p, CSV_STRICT | CSV_STRICT_FINI) != 0)
        g_error("out of memory");
    csv_set_blk_size(p, 65536);
}

// A record that libcsv gave up on: put aside whole, and reading goes on behind it.
static void broken(Reader *r, struct csv_parser *p) {
    if (!r->fields) {
        refuse(r, r->line, "a quote in the heading is broken");
        return;
    }
    r->input->rows++;
    put_aside(r, "quote", "a quote is not closed or stands inside a cell");
    restart(p);
    r->column = 0;
    r->repeats_heading = true;
    transfers_clear_draft(&r->record.draft);
    r->record.n_twice = 0;
}

static void feed(Reader *r, struct csv_parser *p, const char *text, size_t length, uint32_t line) {
    if (p->pstate == 0) {
        r->line = line;
        g_string_truncate(r->raw, 0);
    }
    if (line == 1 && length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0)
        text += 3, length -= 3;
    if (!g_utf8_validate_len(text, length, NULL)) {
        refuse(r, line,
               "not UTF-8; say which encoding it is in network.ini, for example encoding = "
               "windows-1252");
        return;
    }
    g_string_append_len(r->raw, text, (gssize)length);
    if (csv_parse(p, text, length, on_cell, on_row, r) != length)
        broken(r, p);
}

static void read_lines(Reader *r, FILE *stream) {
    struct csv_parser p = {0};
    char *text = NULL;
    size_t room = 0;
    ssize_t n;
    EVP_MD_CTX *sha = EVP_MD_CTX_new();
    EVP_DigestInit_ex(sha, EVP_sha256(), NULL);
    restart(&p);
    for (uint32_t line = 1; !r->error && (n = getline(&text, &room, stream)) >= 0; line++) {
        EVP_DigestUpdate(sha, text, (size_t)n);
        r->input->bytes += (uint64_t)n;
        feed(r, &p, text, (size_t)n, line);
    }
    if (ferror(stream) && !r->error)
        g_set_error(&r->error, READER_ERROR, READER_ERROR_INPUT, "%s: %s", r->input->name,
                    g_strerror(errno));
    if (!r->error && csv_fini(&p, on_cell, on_row, r) != 0)
        broken(r, &p);
    csv_free(&p);
    free(text);
    unsigned char digest[EVP_MAX_MD_SIZE];
    unsigned size = 0;
    EVP_DigestFinal_ex(sha, digest, &size);
    EVP_MD_CTX_free(sha);
    GString *hex = g_string_new(NULL);
    for (unsigned i = 0; i < size; i++)
        g_string_append_printf(hex, "%02x", digest[i]);
    r->input->sha256 = g_string_free(hex, FALSE);
}

// Settings of the first [log PATTERN] that the base name matches.
static bool apply_settings(Reader *r, GError **error) {
    char *base = g_path_get_basename(r->input->name);
    char **groups = g_key_file_get_groups(r->network->keys, NULL);
    const char *group = NULL;
    for (char **g = groups; *g && !group; g++)
        if (g_str_has_prefix(*g, "log ") && g_pattern_match_simple(*g + 4, base))
            group = *g;
    char **keys = group ? g_key_file_get_keys(r->network->keys, group, NULL, NULL) : NULL;
    bool good = true;
    for (char **key = keys; good && key && *key; key++) {
        char *value = g_strstrip(g_key_file_get_value(r->network->keys, group, *key, NULL));
        if (!strcmp(*key, "recorded_by"))
            r->input->keeper = g_strdup(value);
        else if (!strcmp(*key, "received"))
            good = when_read_date(value, strlen(value), &r->input->received);
        else if (!strcmp(*key, "timezone"))
            good = (r->own_zone = when_zone_new(value, NULL)) != NULL;
        else
            good = false;
        if (!good)
            g_set_error(error, READER_ERROR, READER_ERROR_SETTING,
                        "%s/network.ini: [%s] %s = %s: this key or value is not understood",
                        r->network->dir, group, *key, value);
        g_free(value);
    }
    g_strfreev(keys);
    g_strfreev(groups);
    g_free(base);
    return good;
}

bool reader_read(Input *input, uint16_t file, const Network *network, Transfers *t,
                 Findings *findings, GError **error) {
    Reader r = {.input = input,
                .file = file,
                .network = network,
                .t = t,
                .findings = findings,
                .line = 1,
                .repeats_heading = true};
    if (!apply_settings(&r, error))
        return false;
    r.zone = r.own_zone ? r.own_zone : network->zone;
    r.keeper = input->keeper ? transfers_unit(t, input->keeper, strlen(input->keeper)) : 0;
    FILE *stream = strcmp(input->path, "-") ? fopen(input->path, "rb") : stdin;
    if (!stream) {
        g_set_error(error, READER_ERROR, READER_ERROR_INPUT, "%s: %s", input->path,
                    g_strerror(errno));
        when_zone_free(r.own_zone);
        return false;
    }
    r.raw = g_string_new(NULL);
    r.heading = g_ptr_array_new_with_free_func(g_free);
    transfers_clear_draft(&r.record.draft);
    read_lines(&r, stream);
    if (!r.fields)
        refuse(&r, 1, "the file has no heading");
    if (stream != stdin)
        fclose(stream);
    g_string_free(r.raw, TRUE);
    g_ptr_array_unref(r.heading);
    g_free(r.fields);
    when_zone_free(r.own_zone);
    if (r.error)
        g_propagate_error(error, r.error);
    return r.error == NULL;
}
