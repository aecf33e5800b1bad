// SPDX-License-Identifier: GPL-3.0-or-later
// For tests of the reading: a log given as text, and all that was read of it, as text.
#ifndef CROSSWARD_TESTS_INTAKE_H
#define CROSSWARD_TESTS_INTAKE_H

#include "intake/reader.h"

#include <check.h>
#include <string.h>
#include <unistd.h>

typedef struct {
    Input input;
    Network *network;
    Transfers *t;
    Findings *findings;
    GError *error; // NULL if it was read
} Reading;

// A network whose network.ini holds that text; NULL = defaults.
static inline Network *intake_network(const char *ini) {
    if (!ini)
        return network_load(NULL, NULL);
    char *dir = g_dir_make_tmp("crossward-test-XXXXXX", NULL);
    char *path = g_build_filename(dir, "network.ini", NULL);
    ck_assert(g_file_set_contents(path, ini, -1, NULL));
    GError *error = NULL;
    Network *network = network_load(dir, &error);
    ck_assert_msg(network != NULL, "%s", error ? error->message : "");
    unlink(path);
    rmdir(dir);
    g_free(path);
    g_free(dir);
    return network;
}

// Reads n bytes as log.csv. Free with intake_free.
static inline Reading *intake_read(const char *text, size_t n, const char *ini, unsigned threads,
                                   size_t chunk) {
    Reading *r = g_new0(Reading, 1);
    char *path = NULL;
    const int file = g_file_open_tmp("crossward-test-XXXXXX.csv", &path, NULL);
    ck_assert(file >= 0 && write(file, text, n) == (ssize_t)n && close(file) == 0);
    r->input.path = path;
    r->input.name = g_strdup("log.csv");
    r->network = intake_network(ini);
    r->t = transfers_new();
    r->findings = finding_list_new();
    const ReaderOptions options = {.threads = threads, .chunk = chunk};
    const bool good = reader_read(&r->input, 0, r->network, &options, r->t, r->findings, &r->error);
    ck_assert(good == (r->error == NULL));
    ck_assert(transfers_seal(r->t));
    finding_sort(r->findings);
    unlink(path);
    return r;
}

static inline void intake_free(Reading *r) {
    transfers_free(r->t);
    finding_list_free(r->findings);
    network_free(r->network);
    g_clear_error(&r->error);
    g_free(r->input.path);
    g_free(r->input.name);
    g_free(r->input.sha256);
    g_free(r->input.keeper);
    g_free(r->input.encoding);
    g_free(r->input.masks);
    if (r->input.words)
        g_hash_table_unref(r->input.words);
    g_free(r);
}

// A time as a log writes it (UTC), "" if unknown.
static inline char *intake_time(int32_t minute) {
    if (minute == WHEN_UNKNOWN)
        return g_strdup("");
    int y, m, d;
    const int32_t day = when_day_of(minute), rest = minute - day * WHEN_DAY;
    when_civil(day, &y, &m, &d);
    return g_strdup_printf("%04d-%02d-%02dT%02d:%02d", y, m, d, rest / 60, rest % 60);
}

// One value of one transfer as a log writes it, "" if unknown; an id as the line where it first is.
static inline char *intake_value(const Transfers *t, FieldId f, size_t row) {
    switch (field_table[f].kind) {
    case KIND_ID: {
        const uint64_t *id = t->column[f];
        size_t first = 0;
        while (id[first] != id[row])
            first++;
        return id[row] ? g_strdup_printf("@%u", t->line[first]) : g_strdup("");
    }
    case KIND_UNIT:
        return g_strdup(t->units->pdata[transfers_units(t, f)[row]]);
    case KIND_CODE: {
        const uint8_t code = transfers_codes(t, f)[row];
        return g_strdup(code ? field_code_text(field_table[f].codes, code) : "");
    }
    case KIND_DATE: {
        const int32_t day = transfers_date(t, f, row);
        char *time = intake_time(day == WHEN_UNKNOWN ? day : day * WHEN_DAY);
        time[MIN(strlen(time), 10)] = 0;
        return time;
    }
    case KIND_TIME:
        return intake_time(transfers_times(t, f)[row]);
    case KIND_NUMBER: {
        const double number = ((const double *)t->column[f])[row];
        char text[G_ASCII_DTOSTR_BUF_SIZE];
        return g_strdup(number != number ? "" : g_ascii_dtostr(text, sizeof text, number));
    }
    case KIND_EVENTS:
        break;
    }
    if (((const uint32_t *)t->column[f])[row] == 0)
        return g_strdup("");
    size_t n;
    const Event *events = transfers_events_of(t, row, &n);
    GString *list = g_string_new(n == 0 ? "none" : "");
    for (size_t i = 0; i < n; i++)
        g_string_append_printf(list, "%s%s%s%s", i ? ";" : "",
                               field_code_text(field_table[f].codes, events[i].category),
                               events[i].harm ? ":" : "",
                               events[i].harm ? field_code_text(&field_harm, events[i].harm) : "");
    return g_string_free(list, FALSE);
}

// All that was read, one line a transfer (its line, then field=value), finding and row put aside.
static inline char *intake_text(const Reading *r) {
    GString *s = g_string_new(NULL);
    if (r->error)
        g_string_append_printf(s, "refused: %s\n", r->error->message);
    for (size_t i = 0; !r->error && i < r->t->n; i++) {
        g_string_append_printf(s, "%u:", r->t->line[i]);
        for (int f = 0; f < FIELD_STORED; f++) {
            char *value = intake_value(r->t, (FieldId)f, i);
            if (*value)
                g_string_append_printf(s, " %s=%s", field_table[f].name, value);
            g_free(value);
        }
        g_string_append_c(s, '\n');
    }
    for (guint i = 0; !r->error && i < r->findings->findings->len; i++) {
        const Finding *f = &g_array_index(r->findings->findings, Finding, i);
        g_string_append_printf(s, "%u.%u %s %s %s\n", f->line, f->column,
                               finding_severity_text(f->severity), f->code,
                               f->found ? f->found : "");
    }
    for (guint i = 0; !r->error && i < r->findings->put_aside->len; i++) {
        const PutAside *p = &g_array_index(r->findings->put_aside, PutAside, i);
        g_string_append_printf(s, "%u aside %s [%s]\n", p->line, p->code, p->row);
    }
    g_string_append_printf(s, "%u rows\n", (unsigned)r->input.rows);
    return g_string_free(s, FALSE);
}

#endif
