// SPDX-License-Identifier: GPL-3.0-or-later
// Writing the plain tables.
#include "pack/tables.h"

#include "base/csvtable.h"
#include "base/parallel.h"
#include "base/version.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

void tables_number(GString *out, double value) {
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    if (fabs(value) < 1e9 && value == rint(value)) // most are counts
        g_string_append_printf(out, "%d", (int)value);
    else if (isfinite(value))
        g_string_append(out, g_ascii_formatd(text, sizeof text, "%.12g", value + 0.0));
}

static void cell(GString *out, const char *text) {
    csvtable_append(out, text);
    g_string_append_c(out, ',');
}

static void number(GString *out, double value) {
    tables_number(out, value);
    g_string_append_c(out, ',');
}

// The rows of the table as text, in pieces written side by side.
enum { PIECE = 1024 };
typedef struct {
    const Estimates *e;
    void (*append)(GString *out, const Estimates *e, const Estimate *row);
    GString **piece;
} Rows;

static void write_piece(unsigned i, void *user) {
    const Rows *rows = user;
    rows->piece[i] = g_string_sized_new((gsize)PIECE * 128);
    for (guint r = i * PIECE; r < MIN((i + 1) * PIECE, rows->e->rows->len); r++)
        rows->append(rows->piece[i], rows->e, &g_array_index(rows->e->rows, Estimate, r));
}

static void append_rows(GString *out, const Estimates *e,
                        void (*append)(GString *out, const Estimates *e, const Estimate *row)) {
    const unsigned n = (e->rows->len + PIECE - 1) / PIECE;
    Rows rows = {e, append, g_new0(GString *, n + 1)};
    parallel_each(n, e->threads, write_piece, &rows);
    for (unsigned i = 0; i < n; i++) {
        g_string_append_len(out, rows.piece[i]->str, (gssize)rows.piece[i]->len);
        g_string_free(rows.piece[i], TRUE);
    }
    g_free(rows.piece);
}

static void summary_row(GString *out, const Estimates *e, const Estimate *r) {
    const Indicator *i = e->catalogue->pdata[r->indicator];
    char *group = estimate_group(e, r);
    cell(out, i->name);
    cell(out, estimate_measure(e, r));
    cell(out, r->unit ? e->t->units->pdata[r->unit] : "all");
    cell(out, g_array_index(e->periods, Period, r->period).name);
    cell(out, group);
    number(out, r->events);
    number(out, r->total);
    number(out, r->estimate);
    number(out, r->lower);
    number(out, r->upper);
    number(out, e->confidence);
    cell(out, estimate_method(e, r));
    number(out, (double)r->unknown);
    number(out, r->if_none);
    number(out, r->if_all);
    csvtable_append(out, i->scale);
    g_string_append_c(out, '\n');
    g_free(group);
}

GString *tables_summary(const Estimates *e) {
    GString *out = g_string_new("indicator,measure,unit,period,group,events,total,estimate,lower,"
                                "upper,confidence,method,unknown,"
                                "if_unknown_none,if_unknown_all,scale\n");
    append_rows(out, e, summary_row);
    return out;
}

static void set_number(json_t *row, const char *key, double value) {
    json_object_set_new(row, key, isfinite(value) ? json_real(value + 0.0) : json_null());
}

static void set_text(json_t *row, const char *key, const char *value) {
    json_t *text = json_string(value);
    json_object_set_new(row, key, text ? text : json_null());
}

static json_t *summary_object(const Estimates *e, const Estimate *r) {
    const Indicator *i = e->catalogue->pdata[r->indicator];
    char *group = estimate_group(e, r);
    json_t *row = json_object();
    set_text(row, "indicator", i->name);
    set_text(row, "measure", estimate_measure(e, r));
    set_text(row, "unit", r->unit ? e->t->units->pdata[r->unit] : "all");
    set_text(row, "period", g_array_index(e->periods, Period, r->period).name);
    set_text(row, "group", group);
    set_number(row, "events", r->events);
    set_number(row, "total", r->total);
    set_number(row, "estimate", r->estimate);
    set_number(row, "lower", r->lower);
    set_number(row, "upper", r->upper);
    set_number(row, "confidence", e->confidence);
    set_text(row, "method", estimate_method(e, r));
    json_object_set_new(row, "unknown", json_integer((json_int_t)r->unknown));
    set_number(row, "if_unknown_none", r->if_none);
    set_number(row, "if_unknown_all", r->if_all);
    set_text(row, "scale", i->scale);
    g_free(group);
    return row;
}

static void json_row(GString *out, const Estimates *e, const Estimate *r) {
    json_t *row = summary_object(e, r);
    char *text = json_dumps(row, JSON_COMPACT | JSON_REAL_PRECISION(12));
    const bool last = r + 1 == &g_array_index(e->rows, Estimate, e->rows->len);
    g_string_append(out, text);
    g_string_append(out, last ? "\n" : ",\n");
    free(text);
    json_decref(row);
}

GString *tables_summary_json(const Estimates *e) {
    GString *out = g_string_new("[\n");
    append_rows(out, e, json_row);
    g_string_append(out, "]\n");
    return out;
}

GString *tables_findings(const Findings *findings, const char *const *names) {
    GString *out = g_string_new("file,line,column,field,severity,code,found,message\n");
    for (guint i = 0; i < findings->findings->len; i++) {
        const Finding *f = &g_array_index(findings->findings, Finding, i);
        cell(out, f->file == FINDING_ALL_LOGS ? "" : names[f->file]);
        g_string_append_printf(out, "%u,", f->line);
        if (f->column)
            g_string_append_printf(out, "%u", f->column);
        g_string_append_printf(out, ",%s,%s,%s,",
                               f->field < FIELD_COUNT ? field_table[f->field].name : "",
                               finding_severity_text(f->severity), f->code);
        cell(out, f->found ? f->found : "");
        csvtable_append(out, f->message);
        g_string_append_c(out, '\n');
    }
    return out;
}

GString *tables_put_aside(const Findings *findings, const char *const *names) {
    GString *out = g_string_new("file,line,code,message,row\n");
    for (guint i = 0; i < findings->put_aside->len; i++) {
        const PutAside *p = &g_array_index(findings->put_aside, PutAside, i);
        cell(out, names[p->file]);
        g_string_append_printf(out, "%u,%s,", p->line, p->code);
        cell(out, p->message);
        csvtable_append(out, p->row ? p->row : "");
        g_string_append_c(out, '\n');
    }
    return out;
}

GString *tables_manifest(const TablesInput *inputs, size_t n, const Account *a,
                         const char *const *settings) {
    json_t *list = json_array(), *set = json_object();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(list,
                              json_pack("{s:s, s:I, s:s, s:I}", "name", inputs[i].name, "bytes",
                                        (json_int_t)inputs[i].bytes, "sha256", inputs[i].sha256,
                                        "rows", (json_int_t)inputs[i].rows));
    for (const char *const *s = settings; *s; s += 2)
        json_object_set_new(set, s[0], json_string(s[1]));
    json_t *all = json_pack("{s:s, s:o, s:o, s:{s:I, s:I, s:I, s:I, s:I, s:I}}", "version",
                            VERSION_TEXT, "settings", set, "inputs", list, "account", "read",
                            (json_int_t)a->read, "used", (json_int_t)a->used, "put_aside",
                            (json_int_t)a->put_aside, "repeated", (json_int_t)a->repeated, "merged",
                            (json_int_t)a->merged, "left_out", (json_int_t)a->left_out);
    char *text = all ? json_dumps(all, JSON_INDENT(2)) : NULL;
    if (!text)
        g_error("manifest: a name is not UTF-8");
    GString *out = g_string_new(text);
    g_string_append_c(out, '\n');
    free(text);
    json_decref(all);
    return out;
}
