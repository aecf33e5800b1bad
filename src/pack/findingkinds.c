// SPDX-License-Identifier: GPL-3.0-or-later
// Whose findings they are follows from the records that are used: file and line of each.
#include "pack/findingkinds.h"

#include "cohort/repeats.h"

#include <string.h>

typedef struct {
    const Finding *first;
    guint n;
} Kind;

enum { NOBODY = 0, SEVERAL = UINT16_MAX };

// Who keeps each log, and in a log of several each record.
typedef struct {
    uint16_t *of_file;
    GHashTable *of_line; // file and line -> unit
} Keepers;

static gint64 place(uint32_t file, uint32_t line) {
    return (gint64)((guint64)file << 32 | line);
}

static Keepers keepers_new(const Source *s) {
    const Transfers *t = s->e->t;
    Keepers k = {g_new0(uint16_t, s->n_inputs + 1),
                 g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, NULL)};
    for (size_t i = 0; i < t->n; i++) {
        uint16_t *keeper = &k.of_file[t->file[i]];
        const uint16_t own = repeats_keeper(t, i);
        *keeper = *keeper == NOBODY || *keeper == own ? own : SEVERAL;
    }
    for (size_t i = 0; i < t->n; i++) {
        if (k.of_file[t->file[i]] != SEVERAL)
            continue;
        gint64 *at = g_new(gint64, 1);
        *at = place(t->file[i], t->line[i]);
        g_hash_table_insert(k.of_line, at, GUINT_TO_POINTER(repeats_keeper(t, i)));
    }
    return k;
}

static uint16_t keeper_of(const Keepers *k, uint32_t file, uint32_t line) {
    if (file == FINDING_ALL_LOGS)
        return NOBODY;
    if (k->of_file[file] != SEVERAL)
        return k->of_file[file];
    const gint64 at = place(file, line);
    return (uint16_t)GPOINTER_TO_UINT(g_hash_table_lookup(k->of_line, &at));
}

static void count(FindingsOf *of, const Finding *f) {
    if (!of->kinds)
        of->kinds = g_array_new(FALSE, FALSE, sizeof(Kind));
    guint i = 0;
    while (i < of->kinds->len &&
           strcmp(g_array_index(of->kinds, Kind, i).first->code, f->code) != 0)
        i++;
    if (i == of->kinds->len) {
        const Kind kind = {f, 0};
        g_array_append_val(of->kinds, kind);
    }
    g_array_index(of->kinds, Kind, i).n++;
    of->n++;
}

static gint compare_kinds(gconstpointer a, gconstpointer b) {
    const Kind *x = a, *y = b;
    if (x->first->severity != y->first->severity)
        return x->first->severity > y->first->severity ? -1 : 1;
    if (x->n != y->n)
        return x->n > y->n ? -1 : 1;
    return strcmp(x->first->code, y->first->code);
}

static void count_rows(FindingKinds *k, const Keepers *keepers, const Source *s) {
    for (guint f = 0; f < s->n_inputs; f++) {
        const uint16_t unit = keepers->of_file[f];
        if (unit == NOBODY || unit == SEVERAL)
            continue;
        k->of[unit].alone = true;
        k->of[unit].read += s->inputs[f].rows;
    }
    for (guint i = 0; i < s->findings->put_aside->len; i++) {
        const PutAside *p = &g_array_index(s->findings->put_aside, PutAside, i);
        const uint16_t unit = p->row ? keepers->of_file[p->file] : NOBODY;
        if (unit != NOBODY && unit != SEVERAL)
            k->of[unit].put_aside++;
    }
    GHashTableIter iter;
    gpointer unit;
    g_hash_table_iter_init(&iter, keepers->of_line);
    while (g_hash_table_iter_next(&iter, NULL, &unit))
        k->of[GPOINTER_TO_UINT(unit)].shared = true;
}

FindingKinds *findingkinds_new(const Source *s) {
    FindingKinds *k = g_new(FindingKinds, 1);
    *k = (FindingKinds){s, s->e->t->units->len, g_new0(FindingsOf, s->e->t->units->len)};
    Keepers keepers = keepers_new(s);
    for (guint i = 0; i < s->findings->findings->len; i++) {
        const Finding *f = &g_array_index(s->findings->findings, Finding, i);
        const uint16_t unit = keeper_of(&keepers, f->file, f->line);
        count(&k->of[0], f);
        if (unit != NOBODY)
            count(&k->of[unit], f);
    }
    for (guint u = 0; u < k->n; u++)
        if (k->of[u].kinds)
            g_array_sort(k->of[u].kinds, compare_kinds);
    count_rows(k, &keepers, s);
    g_free(keepers.of_file);
    g_hash_table_unref(keepers.of_line);
    return k;
}

void findingkinds_free(FindingKinds *k) {
    for (guint u = 0; u < k->n; u++)
        g_clear_pointer(&k->of[u].kinds, g_array_unref);
    g_free(k->of);
    g_free(k);
}

// Whether a message names another log than the finding's own; units' pages name no other unit.
static bool names_another(const Source *s, const Finding *f) {
    for (guint i = 0; i < s->n_inputs; i++)
        if (i != f->file && strstr(f->message, s->files[i]))
            return true;
    return false;
}

Sheet *findingkinds_sheet(const FindingKinds *k, uint16_t unit) {
    const GArray *kinds = k->of[unit].kinds;
    if (!kinds)
        return NULL;
    Sheet *sheet =
        sheet_new(unit ? "Findings about this unit's own logs, by kind"
                       : "Findings about the logs, by kind; each stands in findings.csv");
    sheet_column(sheet, "Finding", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "Severity", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "Number", SHEET_NUMBER, WORDS_COUNT);
    sheet_column(sheet, "What the first one says", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "What to do", SHEET_TEXT, WORDS_COUNT);
    for (guint i = 0; i < kinds->len; i++) {
        const Kind *kind = &g_array_index(kinds, Kind, i);
        const char *advice = finding_advice(kind->first->code);
        sheet_text(sheet, kind->first->code);
        sheet_text(sheet, finding_severity_text(kind->first->severity));
        sheet_number(sheet, kind->n);
        sheet_text(sheet, unit && names_another(k->s, kind->first) ? "concerns another log, too"
                                                                   : kind->first->message);
        sheet_text(sheet, advice ? advice : "");
    }
    return sheet;
}

char *findingkinds_sentence(const FindingKinds *k, uint16_t unit) {
    const FindingsOf *of = &k->of[unit];
    char *found = words_figure(WORDS_COUNT, of->n, 0), *text;
    char *read = words_figure(WORDS_COUNT, (double)of->read, 0),
         *aside = words_figure(WORDS_COUNT, (double)of->put_aside, 0);
    if (of->alone)
        text = g_strdup_printf("Rows read from this unit's own logs: %s, put aside: %s; findings "
                               "about these logs: %s.",
                               read, aside, found);
    else if (of->shared)
        text = g_strdup_printf("This unit shares its logs with others; findings about its rows: "
                               "%s.",
                               found);
    else
        text = g_strdup("No log of this unit's own was read: what is known of its transfers comes "
                        "from the others' logs.");
    g_free(found);
    g_free(read);
    g_free(aside);
    return text;
}
