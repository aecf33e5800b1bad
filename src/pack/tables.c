// SPDX-License-Identifier: GPL-3.0-or-later
// Writing the plain tables.
#include "pack/tables.h"

#include "base/csvtable.h"
#include "base/decimal.h"
#include "base/version.h"
#include "pack/groups.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

// ---- numbers ----

void tables_number(GString *out, double value) {
    char text[DECIMAL_SIZE];
    decimal_text(text, value, TABLES_DIGITS);
    g_string_append(out, text);
}

void tables_number_cell(GString *out, double value) {
    tables_number(out, value);
    g_string_append_c(out, ',');
}

void tables_numbers(GString *out, const double *values, guint n) {
    for (guint i = 0; i < n; i++) {
        tables_number(out, values[i]);
        g_string_append_c(out, i + 1 < n ? ',' : '\n');
    }
}

// ---- text that is handed on in pieces ----

enum { PIECE = 1 << 16 };

typedef struct {
    GString *text; // what waits
    TablesSink sink;
    gpointer to;
} Stream;

static Stream stream_begin(TablesSink sink, gpointer to, const char *head) {
    Stream s = {g_string_sized_new(PIECE + PIECE / 8), sink, to};
    g_string_append(s.text, head);
    return s;
}

static void stream_hand_on(Stream *s, gsize most) {
    if (s->text->len <= most)
        return;
    s->sink(s->to, s->text->str, s->text->len);
    g_string_truncate(s->text, 0);
}

static void stream_end(Stream *s) {
    stream_hand_on(s, 0);
    g_string_free(s->text, TRUE);
}

// ---- every estimate, as CSV and JSON together ----

enum { KEPT = 8 }; // numbers: a row has some of them twice

typedef struct {
    Stream csv, json;
    Groups *groups;
    struct {
        double value;
        char text[DECIMAL_SIZE];
    } kept[KEPT];
    unsigned next;
} Summary;

// As g_string_append_len, without its zero at the end: in line, as there are millions of pieces.
static inline void append(GString *out, const char *text, gsize length) {
    if (out->len + length >= out->allocated_len) {
        g_string_append_len(out, text, (gssize)length);
        return;
    }
    memcpy(out->str + out->len, text, length);
    out->len += length;
}

// JSON tells a real from an integer by its point or exponent, which has no plus and no zeros first.
static void json_real_text(GString *out, const char *text, gsize length) {
    const char *e = memchr(text, 'e', length);
    if (length == 0) {
        append(out, "null", 4);
    } else if (!e) {
        append(out, text, length);
        if (!memchr(text, '.', length))
            append(out, ".0", 2);
    } else {
        append(out, text, (gsize)(e - text));
        g_string_append(out, e[1] == '-' ? "e-" : "e");
        g_string_append(out, e + 2 + strspn(e + 2, "0"));
    }
}

static const char *number_text(Summary *s, double value) {
    if (!isfinite(value))
        return "";
    for (unsigned k = 0; k < KEPT; k++)
        if (s->kept[k].value == value)
            return s->kept[k].text;
    const unsigned k = s->next++ % KEPT;
    s->kept[k].value = value;
    decimal_text(s->kept[k].text, value, TABLES_DIGITS);
    return s->kept[k].text;
}

// Whether a text stands in both files as it is.
static bool is_bare(const char *text) {
    while (*text >= ' ' && *text <= '~' && *text != '"' && *text != '\\' && *text != ',')
        text++;
    return *text == 0;
}

static void json_text(GString *out, const char *text) {
    json_t *string = json_string(text); // NULL: not UTF-8
    char *written = string ? json_dumps(string, JSON_ENCODE_ANY) : NULL;
    g_string_append(out, written ? written : "null");
    free(written);
    json_decref(string);
}

// A cell of each file; key: its name in JSON, as `,"name":`.
static void put_text(Summary *s, const char *key, const char *text) {
    GString *csv = s->csv.text, *json = s->json.text;
    const gsize length = strlen(text);
    append(json, key, strlen(key));
    if (is_bare(text)) {
        append(csv, text, length);
        append(json, "\"", 1);
        append(json, text, length);
        append(json, "\"", 1);
    } else {
        csvtable_append(csv, text);
        json_text(json, text);
    }
    append(csv, ",", 1);
}

static void put_number(Summary *s, const char *key, double value) {
    const char *text = number_text(s, value);
    const gsize length = strlen(text);
    append(s->csv.text, text, length);
    append(s->csv.text, ",", 1);
    append(s->json.text, key, strlen(key));
    json_real_text(s->json.text, text, length);
}

static void put_count(Summary *s, const char *key, uint64_t value) {
    char text[24];
    const gsize length = (gsize)g_snprintf(text, sizeof text, "%" G_GUINT64_FORMAT, value);
    append(s->csv.text, text, length);
    append(s->csv.text, ",", 1);
    append(s->json.text, key, strlen(key));
    append(s->json.text, text, length);
}

static void put_unknown(Summary *s, const Estimate *r) {
    static const char key[] = ",\"unknown\":";
    if (r->suppressed)
        put_number(s, key, NAN);
    else
        put_count(s, key, r->unknown);
}

static void summary_row(Summary *s, const Estimates *e, const Estimate *r) {
    const Indicator *i = e->catalogue->pdata[r->indicator];
    put_text(s, "{\"indicator\":", i->name);
    put_text(s, ",\"measure\":", estimate_measure(e, r));
    put_text(s, ",\"unit\":", r->unit ? e->t->units->pdata[r->unit] : "all");
    put_text(s, ",\"period\":", g_array_index(e->periods, Period, r->period).name);
    put_text(s, ",\"group\":", groups_text(s->groups, r));
    put_number(s, ",\"events\":", r->events);
    put_number(s, ",\"total\":", r->total);
    put_number(s, ",\"estimate\":", r->estimate);
    put_number(s, ",\"lower\":", r->lower);
    put_number(s, ",\"upper\":", r->upper);
    put_number(s, ",\"confidence\":", e->confidence);
    put_text(s, ",\"method\":", estimate_method(e, r));
    put_unknown(s, r);
    put_number(s, ",\"if_unknown_none\":", r->if_none);
    put_number(s, ",\"if_unknown_all\":", r->if_all);
    put_text(s, ",\"scale\":", i->scale);
    s->csv.text->str[s->csv.text->len - 1] = '\n'; // for the comma
    append(s->json.text, "}", 1);
}

const char *const tables_summary_head =
    "indicator,measure,unit,period,group,events,total,estimate,lower,upper,confidence,method,"
    "unknown,if_unknown_none,if_unknown_all,scale\n";

void tables_summary(const Estimates *e, TablesSink sink, gpointer csv, gpointer json) {
    Summary s = {.csv = stream_begin(sink, csv, tables_summary_head),
                 .json = stream_begin(sink, json, "[\n"),
                 .groups = groups_new(e, NULL)};
    for (unsigned k = 0; k < KEPT; k++)
        s.kept[k].value = NAN;
    for (guint r = 0; r < e->rows->len; r++) {
        summary_row(&s, e, &g_array_index(e->rows, Estimate, r));
        const bool last = r + 1 == e->rows->len;
        append(s.json.text, last ? "\n" : ",\n", last ? 1 : 2);
        stream_hand_on(&s.csv, PIECE);
        stream_hand_on(&s.json, PIECE);
    }
    g_string_append(s.json.text, "]\n");
    stream_end(&s.csv);
    stream_end(&s.json);
    groups_free(s.groups);
}

// ---- findings ----

static void finding_row(GString *out, const Finding *f, const char *const *names) {
    csvtable_append_cell(out, f->file == FINDING_ALL_LOGS ? "" : names[f->file]);
    g_string_append_printf(out, "%u,", f->line);
    if (f->column)
        g_string_append_printf(out, "%u", f->column);
    g_string_append_printf(out, ",%s,%s,%s,",
                           f->field < FIELD_COUNT ? field_table[f->field].name : "",
                           finding_severity_text(f->severity), f->code);
    csvtable_append_cell(out, f->found ? f->found : "");
    csvtable_append(out, f->message);
    g_string_append_c(out, '\n');
}

const char *const tables_findings_head = "file,line,column,field,severity,code,found,message\n";

void tables_findings(const Findings *findings, const char *const *names, TablesSink sink,
                     gpointer to) {
    Stream s = stream_begin(sink, to, tables_findings_head);
    for (guint i = 0; i < findings->findings->len; i++) {
        finding_row(s.text, &g_array_index(findings->findings, Finding, i), names);
        stream_hand_on(&s, PIECE);
    }
    stream_end(&s);
}

const char *const tables_put_aside_head = "file,line,code,message,row\n";

void tables_put_aside(const Findings *findings, const char *const *names, TablesSink sink,
                      gpointer to) {
    Stream s = stream_begin(sink, to, tables_put_aside_head);
    for (guint i = 0; i < findings->put_aside->len; i++) {
        const PutAside *p = &g_array_index(findings->put_aside, PutAside, i);
        csvtable_append_cell(s.text, names[p->file]);
        g_string_append_printf(s.text, "%u,%s,", p->line, p->code);
        csvtable_append_cell(s.text, p->message);
        csvtable_append(s.text, p->row ? p->row : "");
        g_string_append_c(s.text, '\n');
        stream_hand_on(&s, PIECE);
    }
    stream_end(&s);
}

// ---- the manifest ----

json_t *tables_input_count(const TablesInput *input, uint64_t count) {
    return input->hidden ? json_null() : json_integer((json_int_t)count);
}

static json_t *account_of(const Accounted *a) {
    static const char *const names[ACCOUNTED_COUNTS] = {"read",     "used",   "put_aside",
                                                        "repeated", "merged", "left_out"};
    json_t *counts = json_object();
    for (int k = 0; k < ACCOUNTED_COUNTS; k++)
        json_object_set_new(counts, names[k],
                            a->hidden[k] ? json_null() : json_integer((json_int_t)a->n[k]));
    return counts;
}

GString *tables_manifest(const TablesInput *inputs, size_t n, const Accounted *a,
                         const char *const *settings) {
    json_t *list = json_array(), *set = json_object();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(list,
                              json_pack("{s:s, s:o, s:s, s:o}", "name", inputs[i].name, "bytes",
                                        tables_input_count(&inputs[i], inputs[i].bytes), "sha256",
                                        inputs[i].sha256, "rows",
                                        tables_input_count(&inputs[i], inputs[i].rows)));
    for (const char *const *s = settings; *s; s += 2)
        json_object_set_new(set, s[0], json_string(s[1]));
    json_t *all = json_pack("{s:s, s:o, s:o, s:o}", "version", VERSION_TEXT, "settings", set,
                            "inputs", list, "account", account_of(a));
    char *text = all ? json_dumps(all, JSON_INDENT(2)) : NULL;
    if (!text)
        g_error("manifest: a name is not UTF-8");
    GString *out = g_string_new(text);
    g_string_append_c(out, '\n');
    free(text);
    json_decref(all);
    return out;
}
