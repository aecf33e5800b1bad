// SPDX-License-Identifier: GPL-3.0-or-later
// Equations between counts.
#include "disclosure/attack.h"

#include "stats/determined.h"

#include <string.h>

typedef struct {
    const Estimates *e;
    const Links *links;
    Attack *a;
    guint *first;         // by class: its first count
    int month, end_month; // [month, end_month): months that are listed
} Work;

// ---- equations ----

// parts: counts, n of them, the sum last. What says nothing is left out.
static void add_equation(const Work *w, const guint *of, guint n) {
    const AttackEquation q = {w->a->term->len, n};
    if (n < 2)
        return;
    g_array_append_vals(w->a->term, of, n);
    g_array_append_val(w->a->equation, q);
}

static void add_relations(const Work *w) {
    for (guint r = 0; r < w->links->relation->len; r++) {
        const LinkRelation *l = &g_array_index(w->links->relation, LinkRelation, r);
        const guint *classes = &g_array_index(w->links->term, guint, l->first);
        guint *of = g_new(guint, l->n);
        for (guint cell = 0; cell < l->cells; cell++) {
            for (guint i = 0; i < l->n; i++)
                of[i] = w->first[classes[i]] + cell;
            add_equation(w, of, l->n);
        }
        g_free(of);
    }
}

static const Period *period_at(const Estimates *e, guint p) {
    return &g_array_index(e->periods, Period, p);
}

// Units add up to the network, in a period that a class has units in.
static void add_units(const Work *w, guint first, guint period) {
    GArray *of = g_array_new(FALSE, FALSE, sizeof(guint));
    for (guint place = 1; place <= w->e->units->len; place++) {
        const guint count = first + series_cell(w->e, place % w->e->units->len, period);
        g_array_append_val(of, count);
    }
    add_equation(w, &g_array_index(of, guint, 0), of->len);
    g_array_unref(of);
}

// The months of a period that there are records of, or could be: [*first, *end). Audit years and
// quarters at the ends of a log reach beyond them.
static void listed(const Work *w, guint p, int *first, int *end) {
    *first = MAX(period_at(w->e, p)->first, w->month);
    *end = MIN(period_at(w->e, p)->end, w->end_month);
}

// Periods of a kind that together hold the same months as period p; empty if none do.
static GArray *tiles(const Work *w, guint p, PeriodKind kind) {
    GArray *of = g_array_new(FALSE, FALSE, sizeof(guint));
    int first, end, from, to, months = 0;
    listed(w, p, &first, &end);
    for (guint k = 0; k < w->e->periods->len; k++) {
        listed(w, k, &from, &to);
        if (k == p || period_at(w->e, k)->kind != kind || from < first || to > end || from >= to)
            continue;
        months += to - from;
        g_array_append_val(of, k);
    }
    if (first >= end || months != end - first)
        g_array_set_size(of, 0);
    return of;
}

// Parts of a period add up to it, at one place.
static void add_tiles(const Work *w, guint first, guint place, guint p, const GArray *parts) {
    guint *of = g_new(guint, parts->len + 1);
    for (guint i = 0; i < parts->len; i++)
        of[i] = first + series_cell(w->e, place, g_array_index(parts, guint, i));
    of[parts->len] = first + series_cell(w->e, place, p);
    if (parts->len > 0)
        add_equation(w, of, parts->len + 1);
    g_free(of);
}

static void add_periods(const Work *w, guint p) {
    for (PeriodKind kind = period_at(w->e, p)->kind + 1; kind <= PERIOD_MONTH; kind++) {
        GArray *parts = tiles(w, p, kind);
        for (guint c = 0; c < w->links->classes->len; c++) {
            const LinkClass *class = &g_array_index(w->links->classes, LinkClass, c);
            const bool wide = class->cells > w->e->periods->len + w->e->units->len - 1;
            const guint places = wide && kind != PERIOD_MONTH ? w->e->units->len : 1;
            for (guint place = 0; place < places; place++)
                add_tiles(w, w->first[c], place, p, parts);
        }
        g_array_unref(parts);
    }
}

static void add_lines(const Work *w) {
    for (guint p = 0; p < w->e->periods->len; p++)
        add_periods(w, p);
    for (guint c = 0; c < w->links->classes->len; c++) {
        const LinkClass *class = &g_array_index(w->links->classes, LinkClass, c);
        for (guint p = 0; p < w->e->periods->len; p++)
            if (period_at(w->e, p)->kind != PERIOD_MONTH && w->e->units->len > 1 &&
                series_cell(w->e, w->e->units->len - 1, p) < class->cells)
                add_units(w, w->first[c], p);
    }
}

// ---- counts, and what tells them ----

static guint count_of(const Work *w, const SeriesTable *s, guint row, guint which) {
    const guint series = s->of[row * SERIES_COUNTS + which];
    return series == SERIES_NONE ? ATTACK_NONE
                                 : w->first[w->links->class_of[series]] + s->cell[row];
}

// Which rows tell each count.
static void add_rows(const Work *w, const SeriesTable *s) {
    Attack *a = w->a;
    const guint n = w->e->rows->len;
    guint at = 0;
    a->of_row = g_new(guint, (gsize)n * SERIES_COUNTS + 1);
    for (guint r = 0; r < n * SERIES_COUNTS; r++) {
        a->of_row[r] = count_of(w, s, r / SERIES_COUNTS, r % SERIES_COUNTS);
        if (a->of_row[r] != ATTACK_NONE)
            a->count[a->of_row[r]].rows++;
    }
    for (guint c = 0; c < a->counts; c++) {
        a->count[c].first_row = at;
        at += a->count[c].rows;
        a->count[c].rows = 0;
    }
    a->row = g_new(guint, at + 1);
    for (guint r = 0; r < n * SERIES_COUNTS; r++) {
        const guint c = a->of_row[r];
        if (c != ATTACK_NONE)
            a->row[a->count[c].first_row + a->count[c].rows++] = r / SERIES_COUNTS;
    }
}

static void add_holds(Attack *a) {
    guint at = 0;
    for (guint t = 0; t < a->term->len; t++)
        a->count[g_array_index(a->term, guint, t)].equations++;
    for (guint c = 0; c < a->counts; c++) {
        a->count[c].first_equation = at;
        at += a->count[c].equations;
        a->count[c].equations = 0;
    }
    a->holds_in = g_new(guint, at + 1);
    for (guint q = 0; q < a->equation->len; q++) {
        const AttackEquation *of = &g_array_index(a->equation, AttackEquation, q);
        for (guint i = 0; i < of->n; i++) {
            AttackCount *c = &a->count[g_array_index(a->term, guint, of->first + i)];
            a->holds_in[c->first_equation + c->equations++] = q;
        }
    }
}

Attack *attack_new(const Estimates *e, const SeriesTable *series, const Links *links) {
    Attack *a = g_new0(Attack, 1);
    Work w = {e, links, a, g_new(guint, links->classes->len + 1), G_MAXINT, G_MININT};
    for (guint p = 0; p < e->periods->len; p++)
        if (period_at(e, p)->kind == PERIOD_MONTH) {
            w.month = MIN(w.month, period_at(e, p)->first);
            w.end_month = MAX(w.end_month, period_at(e, p)->end);
        }
    for (guint c = 0; c < links->classes->len; c++) {
        w.first[c] = a->counts;
        a->counts += g_array_index(links->classes, LinkClass, c).cells;
    }
    a->count = g_new0(AttackCount, a->counts + 1);
    a->equation = g_array_new(FALSE, FALSE, sizeof(AttackEquation));
    a->term = g_array_new(FALSE, FALSE, sizeof(guint));
    for (guint c = 0; c < links->classes->len; c++) {
        const LinkClass *class = &g_array_index(links->classes, LinkClass, c);
        for (guint k = 0; k < class->cells; k++)
            a->count[w.first[c] + k].value = class->value[k];
    }
    add_relations(&w);
    add_lines(&w);
    add_rows(&w, series);
    add_holds(a);
    g_free(w.first);
    return a;
}

void attack_free(Attack *a) {
    g_array_unref(a->equation);
    g_array_unref(a->term);
    g_free(a->count);
    g_free(a->row);
    g_free(a->of_row);
    g_free(a->holds_in);
    g_free(a);
}

// ---- all equations together ----

static guint term(const Attack *a, const AttackEquation *q, guint i) {
    return g_array_index(a->term, guint, q->first + i);
}

// The terms of an equation that are not known, each once.
static void add_unknown(const Attack *a, const AttackEquation *q, const bool *known,
                        GArray *terms) {
    const guint first = terms->len;
    for (guint i = 0; i < q->n; i++) {
        const guint c = term(a, q, i);
        DeterminedTerm t = {c, i + 1 < q->n ? 1 : -1};
        guint k = first;
        while (k < terms->len && g_array_index(terms, DeterminedTerm, k).unknown != c)
            k++;
        if (known[c])
            continue;
        if (k == terms->len)
            g_array_append_val(terms, t);
        else
            g_array_index(terms, DeterminedTerm, k).times += t.times;
    }
}

void attack_solve(const Attack *a, const bool *known, bool *determined) {
    GArray *terms = g_array_new(FALSE, FALSE, sizeof(DeterminedTerm));
    size_t *first = g_new(size_t, a->equation->len + 1), n = 0;
    for (guint q = 0; q < a->equation->len; q++) {
        first[n] = terms->len;
        add_unknown(a, &g_array_index(a->equation, AttackEquation, q), known, terms);
        n += terms->len > first[n];
    }
    first[n] = terms->len;
    if (!determined_find(a->counts, n, first, (const DeterminedTerm *)(void *)terms->data,
                         determined))
        g_error("no memory left to see whether hidden counts can be found out");
    for (guint c = 0; c < a->counts; c++)
        determined[c] = determined[c] && !known[c];
    g_free(first);
    g_array_unref(terms);
}
