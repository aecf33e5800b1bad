// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of the database, except the cohort's rows; making it and putting it in its place.
#include "pack/database.h"

#include "base/embed.h"
#include "base/outfile.h"
#include "base/version.h"
#include "pack/cohortrows.h"
#include "pack/views.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

// application_id is "CrWd" in ASCII: file(1) and others tell the database by it. user_version is
// that of sql/schema.sql.
static const char begin[] = "PRAGMA application_id = 1131566948; PRAGMA user_version = 1; BEGIN;";

static const char *filled(const char *text) {
    return text && *text ? text : NULL;
}

static const char caution[] =
    "One row is one transfer: keep this file as carefully as the logs. Not for individual clinical "
    "decisions; a unit outside limits is a reason to look, not a verdict.";

static void write_meta(SqlWriter *w, const DatabaseContent *c) {
    static const char *const own[] = {"program", "crossward", "version", VERSION_TEXT,
                                      "caution", caution,     NULL};
    sqlwriter_table(w, "meta", "key, value");
    for (const char *const *list = own; list; list = list == own ? c->meta : NULL)
        for (const char *const *m = list; *m; m += 2) {
            sqlwriter_text(w, m[0]);
            sqlwriter_text(w, m[1]);
            sqlwriter_add(w);
        }
}

static void write_inputs(SqlWriter *w, const DatabaseContent *c) {
    sqlwriter_table(w, "inputs", "input, name, bytes, sha256, row_count");
    for (size_t i = 0; i < c->n_inputs; i++) {
        sqlwriter_integer(w, (gint64)i + 1);
        sqlwriter_text(w, c->inputs[i].name);
        sqlwriter_integer(w, (gint64)c->inputs[i].bytes);
        sqlwriter_text(w, c->inputs[i].sha256);
        sqlwriter_integer(w, (gint64)c->inputs[i].rows);
        sqlwriter_add(w);
    }
}

static void write_account(SqlWriter *w, const Account *a) {
    const struct {
        const char *part;
        uint64_t rows;
    } parts[] = {{"read", a->read},         {"used", a->used},     {"put_aside", a->put_aside},
                 {"repeated", a->repeated}, {"merged", a->merged}, {"left_out", a->left_out}};
    sqlwriter_table(w, "account", "part, row_count");
    for (size_t i = 0; i < G_N_ELEMENTS(parts); i++) {
        sqlwriter_text(w, parts[i].part);
        sqlwriter_integer(w, (gint64)parts[i].rows);
        sqlwriter_add(w);
    }
}

static void write_codes(SqlWriter *w, const char *field, const CodeList *list) {
    for (unsigned c = 0; c < list->n; c++) {
        sqlwriter_text(w, field);
        sqlwriter_text(w, list->codes[c].code);
        sqlwriter_integer(w, c + 1);
        sqlwriter_text(w, list->codes[c].definition);
        sqlwriter_add(w);
    }
}

static void write_fields(SqlWriter *w) {
    static const char *const kinds[] = {
        [KIND_ID] = "id",        [KIND_UNIT] = "unit", [KIND_CODE] = "code",
        [KIND_DATE] = "date",    [KIND_TIME] = "time", [KIND_EVENTS] = "events",
        [KIND_NUMBER] = "number"};
    sqlwriter_table(w, "fields", "field, ordinal, kind, derived, description");
    for (int f = 0; f < FIELD_COUNT; f++) {
        sqlwriter_text(w, field_table[f].name);
        sqlwriter_integer(w, f + 1);
        sqlwriter_text(w, kinds[field_table[f].kind]);
        sqlwriter_integer(w, field_table[f].need == NEED_DERIVED);
        sqlwriter_text(w, field_table[f].description);
        sqlwriter_add(w);
    }
    sqlwriter_table(w, "codes", "field, code, ordinal, definition");
    for (int f = 0; f < FIELD_COUNT; f++)
        if (field_table[f].kind == KIND_CODE)
            write_codes(w, field_table[f].name, field_table[f].codes);
    write_codes(w, "event", field_table[FIELD_events].codes);
    write_codes(w, "harm", &field_harm);
}

static void write_findings(SqlWriter *w, const Findings *findings) {
    sqlwriter_table(w, "findings",
                    "finding, input, line, column_number, field, severity, code, found, message");
    for (guint i = 0; i < findings->findings->len; i++) {
        const Finding *f = &g_array_index(findings->findings, Finding, i);
        sqlwriter_integer(w, (gint64)i + 1);
        if (f->file == FINDING_ALL_LOGS)
            sqlwriter_null(w);
        else
            sqlwriter_integer(w, (gint64)f->file + 1);
        sqlwriter_integer(w, f->line);
        if (f->column)
            sqlwriter_integer(w, f->column);
        else
            sqlwriter_null(w);
        sqlwriter_text(w, f->field < FIELD_COUNT ? field_table[f->field].name : NULL);
        sqlwriter_text(w, finding_severity_text(f->severity));
        sqlwriter_text(w, f->code);
        sqlwriter_text(w, f->found);
        sqlwriter_text(w, f->message);
        sqlwriter_add(w);
    }
}

static void write_periods(SqlWriter *w, const CountData *data) {
    static const char *const kinds[] = {"all", "year", "quarter", "month"};
    sqlwriter_table(w, "periods", "period, ordinal, kind, first_month, end_month, days");
    for (guint p = 0; p < data->periods->len; p++) {
        const Period *period = &g_array_index(data->periods, Period, p);
        char first[16], end[16];
        g_snprintf(first, sizeof first, "%04d-%02d", period->first / 12, period->first % 12 + 1);
        g_snprintf(end, sizeof end, "%04d-%02d", period->end / 12, period->end % 12 + 1);
        sqlwriter_text(w, period->name);
        sqlwriter_integer(w, p + 1);
        sqlwriter_text(w, kinds[period->kind]);
        sqlwriter_text(w, first);
        sqlwriter_text(w, end);
        sqlwriter_integer(w, lround(count_weeks(data, period) * 7));
        sqlwriter_add(w);
    }
}

static void write_caps(SqlWriter *w, const Network *network) {
    sqlwriter_table(w, "caps", "from_field, to_field, minutes");
    for (int from = 0; from < FIELD_STORED; from++)
        for (int to = 0; to < FIELD_STORED; to++) {
            const int32_t cap = network_cap(network, (FieldId)from, (FieldId)to);
            if (cap == INT32_MAX)
                continue;
            sqlwriter_text(w, field_table[from].name);
            sqlwriter_text(w, field_table[to].name);
            sqlwriter_integer(w, cap);
            sqlwriter_add(w);
        }
}

static void write_indicator(SqlWriter *w, const Indicator *in, guint ordinal, const char *view) {
    static const char *const measures[] = {"share", "rate",  "quantile", "mix",
                                           "count", "hours", "overlap"};
    static const char *const exposures[] = {"transfers", "hours", "km", "weeks"};
    const char *mix = in->field == FIELD_events ? "event" : field_table[in->field].name;
    sqlwriter_text(w, in->name);
    sqlwriter_integer(w, ordinal);
    sqlwriter_text(w, in->title);
    sqlwriter_text(w, measures[in->measure]);
    sqlwriter_text(w, in->events_text);
    sqlwriter_text(w, in->among_text);
    sqlwriter_text(w, in->scale);
    sqlwriter_text(w, in->measure == MEASURE_RATE ? exposures[in->exposure] : NULL);
    sqlwriter_text(w, in->measure == MEASURE_MIX ? mix : NULL);
    sqlwriter_text(w, filled(in->better));
    sqlwriter_text(w, filled(in->compare));
    sqlwriter_text(w, filled(in->note));
    sqlwriter_text(w, view);
    sqlwriter_add(w);
}

static void write_breakdown(SqlWriter *w, const char *indicator, const char *field,
                            unsigned ordinal) {
    sqlwriter_text(w, indicator);
    sqlwriter_text(w, field);
    sqlwriter_integer(w, ordinal);
    sqlwriter_add(w);
}

static bool named_before(const Indicator *in, unsigned b) {
    for (unsigned k = 0; k < b; k++)
        if (in->by[k] == in->by[b])
            return true;
    return false;
}

static void write_catalogue(SqlWriter *w, const GPtrArray *catalogue, const GPtrArray *names) {
    sqlwriter_table(w, "catalogue",
                    "indicator, ordinal, title, measure, event_condition, among, scale, exposure, "
                    "mix_field, better, compare, note, view_name");
    for (guint i = 0; i < catalogue->len; i++)
        write_indicator(w, catalogue->pdata[i], i + 1, names->pdata[i]);
    sqlwriter_table(w, "breakdowns", "indicator, field, ordinal");
    for (guint i = 0; i < catalogue->len; i++) {
        const Indicator *in = catalogue->pdata[i];
        write_breakdown(w, in->name, "all", 0);
        for (unsigned b = 0; b < in->n_by; b++)
            if (!named_before(in, b))
                write_breakdown(w, in->name, field_table[in->by[b]].name, b + 1);
    }
}

static void write_occurring(SqlWriter *w, const CountData *data, FieldId f, const GArray *codes) {
    for (guint c = 0; c < codes->len; c++) {
        const uint16_t value = g_array_index(codes, uint16_t, c);
        sqlwriter_text(w, field_table[f].name);
        sqlwriter_text(w, value == 0 ? ""
                          : field_table[f].kind == KIND_UNIT
                              ? data->t->units->pdata[value]
                              : field_code_text(field_table[f].codes, value));
        sqlwriter_add(w);
    }
}

static void write_occurring_codes(SqlWriter *w, const CountData *data) {
    sqlwriter_table(w, "occurring_codes", "field, code");
    sqlwriter_text(w, "all");
    sqlwriter_text(w, "all");
    sqlwriter_add(w);
    for (int f = 0; f < FIELD_COUNT; f++)
        if (data->codes[f] && f != FIELD_sending_unit)
            write_occurring(w, data, (FieldId)f, data->codes[f]);
    GArray *senders = g_array_copy(data->units);
    if (senders->len > 0)
        g_array_remove_index(senders, 0); // all
    write_occurring(w, data, FIELD_sending_unit, senders);
    g_array_unref(senders);
}

static void write_estimates(SqlWriter *w, const Estimates *e) {
    sqlwriter_table(w, "estimates",
                    "estimate_row, indicator, measure, unit, period, group_name, events, total, "
                    "estimate, lower_limit, upper_limit, confidence, method, unknown, "
                    "if_unknown_none, if_unknown_all, scale");
    for (guint i = 0; i < e->rows->len; i++) {
        const Estimate *r = &g_array_index(e->rows, Estimate, i);
        const Indicator *in = e->catalogue->pdata[r->indicator];
        char *group = estimate_group(e, r);
        sqlwriter_integer(w, (gint64)i + 1);
        sqlwriter_text(w, in->name);
        sqlwriter_text(w, estimate_measure(e, r));
        sqlwriter_text(w, r->unit ? e->t->units->pdata[r->unit] : "all");
        sqlwriter_text(w, g_array_index(e->periods, Period, r->period).name);
        sqlwriter_text(w, group);
        sqlwriter_real(w, r->events);
        sqlwriter_real(w, r->total);
        sqlwriter_real(w, r->estimate);
        sqlwriter_real(w, r->lower);
        sqlwriter_real(w, r->upper);
        sqlwriter_real(w, e->confidence);
        sqlwriter_text(w, estimate_method(e, r));
        sqlwriter_integer(w, (gint64)r->unknown);
        sqlwriter_real(w, r->if_none);
        sqlwriter_real(w, r->if_all);
        sqlwriter_text(w, in->scale);
        sqlwriter_add(w);
        g_free(group);
    }
}

static void write_all(SqlWriter *w, const DatabaseContent *c) {
    const CountSpan span = {c->settings->has_span, c->settings->span_first, c->settings->span_end};
    CountData *data = count_data_new(c->estimates->t, c->network, c->estimates->catalogue, &span);
    GPtrArray *names = views_names(c->estimates->catalogue);
    GString *views = views_sql(c->estimates->catalogue, names, c->network);
    sqlwriter_run(w, begin);
    sqlwriter_run(w, embed_text("schema.sql"));
    write_meta(w, c);
    write_inputs(w, c);
    write_account(w, c->account);
    write_fields(w);
    write_findings(w, c->findings);
    cohortrows_write(w, data);
    write_periods(w, data);
    write_caps(w, c->network);
    write_catalogue(w, c->estimates->catalogue, names);
    write_occurring_codes(w, data);
    write_estimates(w, c->estimates);
    sqlwriter_run(w, embed_text("views.sql"));
    sqlwriter_run(w, views->str);
    sqlwriter_run(w, embed_text("counts.sql"));
    sqlwriter_run(w, "COMMIT");
    g_string_free(views, TRUE);
    g_ptr_array_unref(names);
    count_data_free(data);
}

// Whether a file is empty, or begins as every database does (sqlite.org/fileformat2.html, 1.3).
static bool may_go(const char *path) {
    static const char magic[] = "SQLite format 3"; // with its NUL
    char start[sizeof magic] = {0};
    FILE *file = fopen(path, "rb");
    const size_t n = file ? fread(start, 1, sizeof start, file) : 0;
    const bool read = file && !ferror(file);
    if (file)
        fclose(file);
    return read && (n == 0 || memcmp(start, magic, sizeof magic) == 0);
}

bool database_may_write(const char *path, bool force, GError **error) {
    const char *why = NULL;
    char *place = outfile_place(path);
    if (g_file_test(place, G_FILE_TEST_IS_SYMLINK))
        why = "is a link that leads nowhere, so it is not replaced";
    else if (!g_file_test(place, G_FILE_TEST_EXISTS))
        why = NULL;
    else if (!g_file_test(place, G_FILE_TEST_IS_REGULAR))
        why = "is no ordinary file, so it is not replaced";
    else if (!force)
        why = "is there already; --force replaces it";
    else if (!may_go(place))
        why = "is there already and is no database, so it is not replaced";
    if (why)
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_EXIST, "%s %s", path, why);
    g_free(place);
    return !why;
}

bool database_write(const char *path, bool force, const DatabaseContent *content, GError **error) {
    if (!database_may_write(path, force, error))
        return false;
    // readable by its owner only: it holds a row for each transfer
    Outfile *out = outfile_begin(path, 0600, error);
    bool good = out != NULL;
    if (good) {
        SqlWriter w;
        sqlwriter_open(&w, outfile_name(out));
        write_all(&w, content);
        good = sqlwriter_close(&w, path, error) && outfile_publish(out, force, error);
    }
    outfile_free(out);
    return good;
}
