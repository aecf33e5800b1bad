// SPDX-License-Identifier: GPL-3.0-or-later
// Lists of findings and of rows put aside.
#include "record/finding.h"

#include <string.h>

static void clear_finding(gpointer data) {
    g_free(((Finding *)data)->found);
}

static void clear_put_aside(gpointer data) {
    g_free(((PutAside *)data)->row);
}

Findings *finding_list_new(void) {
    Findings *list = g_new(Findings, 1);
    list->findings = g_array_new(FALSE, FALSE, sizeof(Finding));
    list->put_aside = g_array_new(FALSE, FALSE, sizeof(PutAside));
    list->texts = g_string_chunk_new(1024);
    g_array_set_clear_func(list->findings, clear_finding);
    g_array_set_clear_func(list->put_aside, clear_put_aside);
    return list;
}

void finding_list_free(Findings *list) {
    if (!list)
        return;
    g_array_unref(list->findings);
    g_array_unref(list->put_aside);
    g_string_chunk_free(list->texts);
    g_free(list);
}

void finding_add(Findings *list, const Finding *about, const char *found, size_t length) {
    Finding f = *about;
    f.found = NULL;
    if (found) {
        size_t keep = MIN(length, 40);
        while (keep > 0 && keep < length && ((unsigned char)found[keep] & 0xC0) == 0x80)
            keep--;
        char *cut = g_strndup(found, keep);
        f.found = g_utf8_make_valid(cut, -1);
        g_free(cut);
    }
    g_array_append_val(list->findings, f);
}

const char *finding_text(Findings *list, const char *format, ...) {
    va_list values;
    va_start(values, format);
    char *text = g_strdup_vprintf(format, values);
    va_end(values);
    const char *own = g_string_chunk_insert_const(list->texts, text);
    g_free(text);
    return own;
}

void finding_put_aside(Findings *list, uint32_t file, uint32_t line, const char *code,
                       const char *message, char *row) {
    const PutAside p = {file, line, code, message, row};
    g_array_append_val(list->put_aside, p);
}

void finding_absorb(Findings *list, Findings *from, uint32_t file, uint32_t line_base) {
    for (guint i = 0; i < from->findings->len; i++) {
        Finding *f = &g_array_index(from->findings, Finding, i);
        f->file = file;
        f->line += line_base;
        g_array_append_vals(list->findings, f, 1);
        f->found = NULL;
    }
    for (guint i = 0; i < from->put_aside->len; i++) {
        PutAside *p = &g_array_index(from->put_aside, PutAside, i);
        p->file = file;
        p->line += line_base;
        g_array_append_vals(list->put_aside, p, 1);
        p->row = NULL;
    }
    g_array_set_size(from->findings, 0);
    g_array_set_size(from->put_aside, 0);
}

static int compare_findings(gconstpointer a, gconstpointer b) {
    const Finding *x = a, *y = b;
    if (x->file != y->file)
        return x->file < y->file ? -1 : 1;
    if (x->line != y->line)
        return x->line < y->line ? -1 : 1;
    if (x->column != y->column)
        return x->column < y->column ? -1 : 1;
    return strcmp(x->code, y->code);
}

static int compare_rows(gconstpointer a, gconstpointer b) {
    const PutAside *x = a, *y = b;
    if (x->file != y->file)
        return x->file < y->file ? -1 : 1;
    return x->line < y->line ? -1 : x->line > y->line;
}

void finding_sort(Findings *list) {
    g_array_sort(list->findings, compare_findings);
    g_array_sort(list->put_aside, compare_rows);
}

const char *finding_severity_text(Severity severity) {
    static const char *const text[] = {"note", "repair", "lost", "severe"};
    return text[severity];
}

const char *finding_advice(const char *code) {
    static const char *const advice[][2] = {
#define ADVICE(code, what) {code, what},
#include "record/findings.def"
    };
    for (size_t i = 0; i < G_N_ELEMENTS(advice); i++)
        if (!strcmp(advice[i][0], code))
            return advice[i][1];
    return NULL;
}
