// SPDX-License-Identifier: GPL-3.0-or-later
// Findings that are alike (same code, same column), told once.
#include "command/digest.h"

#include "record/field.h"

#include <string.h>

enum { SHOWN = 5 };

// Findings of one file that are alike: same code, column and field.
typedef struct {
    const Finding *first[SHOWN];
    size_t n;
} Alike;

static int by_weight(gconstpointer a, gconstpointer b) {
    const Alike *x = a, *y = b;
    if (x->first[0]->severity != y->first[0]->severity)
        return x->first[0]->severity > y->first[0]->severity ? -1 : 1;
    if (x->n != y->n)
        return x->n > y->n ? -1 : 1;
    const int codes = strcmp(x->first[0]->code, y->first[0]->code);
    return codes != 0 ? codes
                      : (x->first[0]->column > y->first[0]->column) -
                            (x->first[0]->column < y->first[0]->column);
}

// Groups the findings [from, to), which are of one file. GArray of Alike, gravest first.
static GArray *group(const GArray *findings, guint from, guint to) {
    GArray *groups = g_array_new(FALSE, FALSE, sizeof(Alike));
    GHashTable *index = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    for (guint i = from; i < to; i++) {
        const Finding *f = &g_array_index(findings, Finding, i);
        char *key = g_strdup_printf("%s %u %d", f->code, f->column, f->field);
        gpointer at = g_hash_table_lookup(index, key);
        if (!at) {
            const Alike none = {0};
            g_array_append_val(groups, none);
            at = GUINT_TO_POINTER(groups->len);
            g_hash_table_insert(index, g_strdup(key), at);
        }
        g_free(key);
        Alike *a = &g_array_index(groups, Alike, GPOINTER_TO_UINT(at) - 1);
        if (a->n < SHOWN)
            a->first[a->n] = f;
        a->n++;
    }
    g_hash_table_unref(index);
    g_array_sort(groups, by_weight);
    return groups;
}

// A cell as found, control characters shown as '?'.
static void append_found(GString *out, const char *found) {
    g_string_append(out, " '");
    for (const char *c = found; *c; c++)
        g_string_append_c(out, (unsigned char)*c < 0x20 || *c == 0x7F ? '?' : *c);
    g_string_append(out, "'");
}

// What they say; where that differs, the first of them as examples, all if no line says where.
static void append_messages(GString *out, const Alike *a) {
    const char *first = a->first[0]->message;
    const size_t shown = MIN(a->n, (size_t)SHOWN);
    bool same = true;
    for (size_t i = 1; i < shown; i++)
        same = same && strcmp(first, a->first[i]->message) == 0;
    g_string_append_printf(out, "%s%s", same ? "" : "such as: ", first);
    for (size_t i = 1; !same && a->first[0]->line == 0 && i < shown; i++)
        g_string_append_printf(out, "; %s", a->first[i]->message);
}

static void append_alike(GString *out, const Alike *a) {
    const Finding *f = a->first[0];
    g_string_append_printf(out, "  %s", finding_severity_text(f->severity));
    if (f->column > 0)
        g_string_append_printf(out, ", column %u", f->column);
    if (f->field < FIELD_COUNT)
        g_string_append_printf(out, " (%s)", field_table[f->field].name);
    g_string_append(out, ": ");
    append_messages(out, a);
    g_string_append_printf(out, " [%s]\n    %zu time%s", f->code, a->n, a->n == 1 ? "" : "s");
    if (f->line > 0)
        g_string_append_printf(out, "%s line%s", a->n > SHOWN ? "; first in" : "; in",
                               a->n == 1 ? "" : "s");
    for (size_t i = 0; f->line > 0 && i < MIN(a->n, (size_t)SHOWN); i++) {
        g_string_append_printf(out, "%s %u", i == 0 ? "" : ",", a->first[i]->line);
        if (a->first[i]->found)
            append_found(out, a->first[i]->found);
    }
    const char *advice = finding_advice(f->code);
    if (advice)
        g_string_append_printf(out, "\n    to do: %s", advice);
    g_string_append_c(out, '\n');
}

static void append_file(GString *out, const GArray *findings, guint from, guint to) {
    GArray *groups = group(findings, from, to);
    for (guint i = 0; i < groups->len; i++)
        append_alike(out, &g_array_index(groups, Alike, i));
    g_array_unref(groups);
}

static void append_heading(GString *out, const Input *in, const Findings *list, guint file,
                           guint findings) {
    uint64_t aside = 0;
    for (guint i = 0; i < list->put_aside->len; i++)
        aside += g_array_index(list->put_aside, PutAside, i).file == file;
    g_string_append_printf(
        out, "%s: %" G_GUINT64_FORMAT " row%s, %" G_GUINT64_FORMAT " of them not used; ", in->name,
        in->rows, in->rows == 1 ? "" : "s", aside);
    if (findings == 0)
        g_string_append(out, "nothing found\n");
    else
        g_string_append_printf(out, "%u finding%s\n", findings, findings == 1 ? "" : "s");
}

GString *digest_text(const GPtrArray *inputs, const Findings *findings) {
    GString *out = g_string_new(NULL);
    guint from = 0;
    for (guint file = 0; file < inputs->len; file++) {
        guint to = from;
        while (to < findings->findings->len &&
               g_array_index(findings->findings, Finding, to).file == file)
            to++;
        append_heading(out, inputs->pdata[file], findings, file, to - from);
        append_file(out, findings->findings, from, to);
        g_string_append_c(out, '\n');
        from = to;
    }
    if (from < findings->findings->len) {
        g_string_append(out, "all logs together\n");
        append_file(out, findings->findings, from, findings->findings->len);
        g_string_append_c(out, '\n');
    }
    return out;
}
