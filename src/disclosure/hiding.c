// SPDX-License-Identifier: GPL-3.0-or-later
// Rows that tell too much by themselves, and the table without them.
#include "disclosure/hiding.h"

#include "disclosure/knowledge.h"
#include "stats/quantile.h"

#include <math.h>
#include <string.h>

static bool few(const Hiding *h, double count) {
    return count >= 1 && count < h->least; // NaN: there is none
}

static bool is_small(const Hiding *h, const Indicator *i, const Estimate *r) {
    const bool share = i->measure == MEASURE_SHARE;
    const bool counts = share || i->measure == MEASURE_MIX || i->measure == MEASURE_QUANTILE;
    return few(h, r->events) || few(h, (double)r->unknown) || few(h, r->records) ||
           (counts && few(h, r->total)) || (share && few(h, r->total - r->events));
}

static bool far_in(const Hiding *h, size_t rank, size_t n) {
    return rank >= h->least && n - rank + 1 >= h->least;
}

static bool is_extreme(const Hiding *h, const Estimates *e, const Estimate *r) {
    static const double of[] = {0.25, 0.5, 0.75, 0.9};
    const size_t n = (size_t)r->total;
    if (n == 0)
        return false;
    const QuantileRanks ranks = quantile_all_ranks(n, of[r->quantile], e->confidence);
    return !far_in(h, ranks.low, n) || !far_in(h, ranks.high, n) || !far_in(h, ranks.lower, n) ||
           !far_in(h, ranks.upper, n);
}

static HidingKind kind_of(const Hiding *h, const Estimates *e, const Estimate *r) {
    const Indicator *i = e->catalogue->pdata[r->indicator];
    if (is_small(h, i, r))
        return HIDING_SMALL;
    return i->measure == MEASURE_QUANTILE && is_extreme(h, e, r) ? HIDING_EXTREME : HIDING_SHOWN;
}

// ---- rows that give others away ----

// Rows are shown one after the other, those first that a reader wants most, as long as nothing
// small follows.
typedef struct {
    const Estimates *e;
    Hiding *h;
    Attack *a;
    Knowledge *k;
    GArray *rows;  // guint: rows that hold nothing small, the most wanted first
    bool *barred;  // by row: not to be shown
    guint bars;    // how often a row was barred
    guint nearest; // how many counts are hidden for each that all equations together tell
} Work;

static const Estimate *row_at(const Estimates *e, guint row) {
    return &g_array_index(e->rows, Estimate, row);
}

static double records(const Estimate *r) {
    return fmax(r->events, r->total) + (double)r->unknown;
}

// The whole span before years, these before quarters and months; whole groups before parts of them,
// the network before units.
static int place_of(const Estimates *e, const Estimate *r) {
    return (int)g_array_index(e->periods, Period, r->period).kind * 4 +
           (r->by != FIELD_COUNT ? 2 : 0) + (r->unit != 0);
}

// Then those with most records.
static gint by_want(gconstpointer a, gconstpointer b, gpointer estimates) {
    const guint i = *(const guint *)a, k = *(const guint *)b;
    const Estimate *x = row_at(estimates, i), *y = row_at(estimates, k);
    const int places = place_of(estimates, x) - place_of(estimates, y);
    const double more = records(y) - records(x);
    if (places != 0)
        return places;
    return more != 0 ? (more > 0 ? 1 : -1) : (i > k) - (i < k);
}

static bool is_protected(const Work *w, guint count) {
    return few(w->h, w->a->count[count].value);
}

static void show_wanted(Work *w) {
    for (guint i = 0; i < w->rows->len; i++) {
        const guint row = g_array_index(w->rows, guint, i);
        if (w->h->of[row] == HIDING_DERIVED && !w->barred[row] && knowledge_show(w->k, row))
            w->h->of[row] = HIDING_SHOWN;
    }
}

// What all equations together say: counts that have one value, by count.
static void solve(const Work *w, bool *determined) {
    bool *known = g_new(bool, w->a->counts + 1);
    for (guint c = 0; c < w->a->counts; c++)
        known[c] = knowledge_of(w->k, c);
    attack_solve(w->a, known, determined);
    g_free(known);
}

// Small counts that follow from all equations together; if none do, counts that tell something
// small once what else follows is known. How many there are; found: which, by count.
static guint follow(const Work *w, bool *found) {
    bool more = true;
    guint n = 0;
    while (n == 0 && more) {
        solve(w, found);
        for (guint c = 0; c < w->a->counts; c++)
            n += found[c] && is_protected(w, c);
        for (guint c = 0; n > 0 && c < w->a->counts; c++)
            found[c] = found[c] && is_protected(w, c);
        if (n == 0)
            n = knowledge_learn(w->k, found, &more);
    }
    return n;
}

static void bar(Work *w, guint row) {
    w->h->of[row] = HIDING_DERIVED;
    w->barred[row] = true;
    w->bars++;
}

// ---- what is nearest to a count ----

// What it costs not to show a count: the records that the rows tell of that would go; 0 where none
// is shown.
static double cost(const Work *w, guint count) {
    const AttackCount *c = &w->a->count[count];
    double sum = 0;
    for (guint k = 0; k < c->rows; k++) {
        const guint row = w->a->row[c->first_row + k];
        if (w->h->of[row] == HIDING_SHOWN)
            sum += 1 + records(row_at(w->e, row));
    }
    return sum;
}

static void hide(Work *w, guint count) {
    const AttackCount *c = &w->a->count[count];
    for (guint k = 0; k < c->rows; k++)
        if (w->h->of[w->a->row[c->first_row + k]] == HIDING_SHOWN)
            bar(w, w->a->row[c->first_row + k]);
}

// Looks through an equation: the cheapest known count to hide into best, others that are not seen
// yet to the end of the queue.
static void look_through(const Work *w, guint equation, GArray *queue, bool *seen, guint *best,
                         double *least) {
    const AttackEquation *q = &g_array_index(w->a->equation, AttackEquation, equation);
    for (guint i = 0; i < q->n; i++) {
        const guint c = g_array_index(w->a->term, guint, q->first + i);
        const double price = cost(w, c);
        if (w->a->count[c].value > 0 && price > 0 && price < *least) { // a 0 hides nothing
            *least = price;
            *best = c;
        }
        if (!seen[c])
            g_array_append_val(queue, c);
        seen[c] = true;
    }
}

// Hides the shown counts that are nearest to a count, by equations: as many as w->nearest says.
static void hide_nearest(Work *w, guint count) {
    bool *seen = g_new0(bool, w->a->counts + 1);
    GArray *queue = g_array_new(FALSE, FALSE, sizeof(guint));
    guint best = ATTACK_NONE;
    double least = INFINITY;
    g_array_append_val(queue, count);
    seen[count] = true;
    for (guint at = 0, n = 0; at < queue->len && n < w->nearest; at++) {
        const AttackCount *c = &w->a->count[g_array_index(queue, guint, at)];
        for (guint k = 0; k < c->equations; k++)
            look_through(w, w->a->holds_in[c->first_equation + k], queue, seen, &best, &least);
        if (best == ATTACK_NONE)
            continue;
        hide(w, best);
        n++;
        best = ATTACK_NONE;
        least = INFINITY;
    }
    g_array_unref(queue);
    g_free(seen);
}

// ---- all ----

enum {
    MOST_NEAREST = 64, // counts hidden for one that is told
    MOST_MENDED = 50,  // counts that are told for which others are hidden in a round
    TRIES = 12         // parts of what was barred that are tried again
};

// If no way to mend it is known: rather nothing than too much.
static void hide_all(Work *w) {
    for (guint k = 0; k < w->e->rows->len; k++)
        if (w->h->of[k] == HIDING_SHOWN)
            bar(w, k);
}

// Hides what is nearest to some of n small counts that follow from all equations together.
static void mend(Work *w, guint n, const bool *small) {
    const guint every = 1 + n / MOST_MENDED;
    guint at = 0;
    for (guint c = 0; c < w->a->counts; c++)
        if (small[c] && at++ % every == 0)
            hide_nearest(w, c);
    w->nearest = MIN(w->nearest * 2, MOST_NEAREST);
}

static void show_safe(Work *w, bool *small) {
    guint n;
    show_wanted(w);
    while ((n = follow(w, small)) > 0) {
        const guint before = w->bars;
        mend(w, n, small);
        if (w->bars == before)
            hide_all(w);
        knowledge_reset(w->k, w->h->of, w->e->rows->len);
        show_wanted(w);
    }
}

// What was barred may be more than is needed: tries a part of it after the other again.
static void show_barred(Work *w, bool *small) {
    GArray *barred = g_array_new(FALSE, FALSE, sizeof(guint));
    for (guint i = 0; i < w->rows->len; i++)
        if (w->barred[g_array_index(w->rows, guint, i)])
            g_array_append_val(barred, g_array_index(w->rows, guint, i));
    const guint part = barred->len / TRIES + 1;
    for (guint from = 0; from < barred->len; from += part) {
        const guint end = MIN(from + part, barred->len);
        for (guint i = from; i < end; i++)
            w->barred[g_array_index(barred, guint, i)] = false;
        show_wanted(w);
        if (follow(w, small) == 0)
            continue;
        for (guint i = from; i < end; i++)
            bar(w, g_array_index(barred, guint, i));
        knowledge_reset(w->k, w->h->of, w->e->rows->len);
    }
    g_array_unref(barred);
}

static void hide_derived(const Estimates *e, Hiding *h) {
    SeriesTable *series = series_new(e);
    Links *links = links_new(e, series);
    Attack *a = attack_new(e, series, links);
    Work w = {e,
              h,
              a,
              knowledge_new(a, h->least),
              g_array_new(FALSE, FALSE, sizeof(guint)),
              g_new0(bool, e->rows->len + 1),
              0,
              1};
    for (guint k = 0; k < e->rows->len; k++)
        if (h->of[k] == HIDING_SHOWN) {
            g_array_append_val(w.rows, k);
            h->of[k] = HIDING_DERIVED;
        }
    g_array_sort_with_data(w.rows, by_want, (gpointer)e);
    bool *small = g_new(bool, a->counts + 1);
    show_safe(&w, small);
    show_barred(&w, small);
    g_free(small);
    g_array_unref(w.rows);
    g_free(w.barred);
    knowledge_free(w.k);
    attack_free(a);
    links_free(links);
    series_free(series);
}

Hiding *hiding_new(const Estimates *e, unsigned least) {
    Hiding *h = g_new0(Hiding, 1);
    h->least = least;
    h->of = g_new0(uint8_t, e->rows->len + 1);
    for (guint k = 0; k < e->rows->len; k++)
        h->of[k] = (uint8_t)kind_of(h, e, &g_array_index(e->rows, Estimate, k));
    hide_derived(e, h);
    for (guint k = 0; k < e->rows->len; k++)
        h->rows[h->of[k]]++;
    return h;
}

void hiding_free(Hiding *h) {
    if (h)
        g_free(h->of);
    g_free(h);
}

static void mask(Estimate *r) {
    r->suppressed = true;
    r->unknown = 0;
    r->events = r->total = r->records = r->estimate = r->lower = r->upper = r->if_none = r->if_all =
        NAN;
}

Estimates *hiding_masked(const Estimates *e, const Hiding *h) {
    Estimates *masked = g_new(Estimates, 1);
    *masked = *e;
    g_array_ref(e->periods);
    g_array_ref(e->units);
    masked->rows = g_array_copy(e->rows);
    for (guint k = 0; k < e->rows->len; k++)
        if (h->of[k] != HIDING_SHOWN)
            mask(&g_array_index(masked->rows, Estimate, k));
    return masked;
}
