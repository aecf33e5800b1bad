// SPDX-License-Identifier: GPL-3.0-or-later
// Rows that tell too much by themselves, and the table without them.
#include "disclosure/hiding.h"

#include "disclosure/attack.h"
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

typedef struct {
    const Estimates *e;
    Hiding *h;
    Attack *a;
    bool *touched; // by count: what is known of it changed since the last attack
    guint hidden;  // counts hidden since then
    bool anywhere; // nothing was found to hide where small counts follow: it may be anywhere
    guint nearest; // how many counts are hidden then: twice as many each time
} Work;

static double records(const Estimate *r) {
    return fmax(r->events, r->total) + (double)r->unknown;
}

// What it costs not to show a count: the records that the rows tell of that would go; 0 where none
// is shown.
static double cost(const Work *w, guint count) {
    const AttackCount *c = &w->a->count[count];
    double sum = 0;
    for (guint k = 0; k < c->rows; k++) {
        const guint row = w->a->row[c->first_row + k];
        const Estimate *r = &g_array_index(w->e->rows, Estimate, row);
        if (w->h->of[row] == HIDING_SHOWN)
            sum += 1 + records(r);
    }
    return sum;
}

static void hide(Work *w, guint count) {
    const AttackCount *c = &w->a->count[count];
    for (guint k = 0; k < c->rows; k++)
        if (w->h->of[w->a->row[c->first_row + k]] == HIDING_SHOWN)
            w->h->of[w->a->row[c->first_row + k]] = HIDING_DERIVED;
    w->touched[count] = true;
    w->hidden++;
}

// The cheapest known count of an equation to hide, one above 0 if there is any: a 0 hides nothing.
// Where a term is itself found by another equation, that one's terms are looked at, too.
static void cheapest(const Work *w, guint equation, guint depth, guint *best, double *least) {
    const AttackEquation *q = &g_array_index(w->a->equation, AttackEquation, equation);
    for (guint i = 0; i < q->n; i++) {
        const guint c = g_array_index(w->a->term, guint, q->first + i);
        const double price = cost(w, c) + (w->a->count[c].value == 0 ? 1e12 : 0);
        if (!w->a->known[c])
            continue;
        if (w->a->found_by[c] != ATTACK_NONE) {
            if (depth > 0 && w->a->found_by[c] != equation)
                cheapest(w, w->a->found_by[c], depth - 1, best, least);
        } else if (cost(w, c) > 0 && price < *least) {
            *least = price;
            *best = c;
        }
    }
}

static bool protected(const Work *w, guint count) {
    return few(w->h, w->a->count[count].value);
}

// Whether an equation is the place to mend: nothing of it was mended since the last attack, nor
// will be, since none of its terms but the one in question is a small count found elsewhere.
static bool is_root(const Work *w, guint equation, guint asked) {
    if (w->anywhere)
        return true;
    const AttackEquation *q = &g_array_index(w->a->equation, AttackEquation, equation);
    for (guint i = 0; i < q->n; i++) {
        const guint c = g_array_index(w->a->term, guint, q->first + i);
        if (w->touched[c] || (c != asked && w->a->found_by[c] != ATTACK_NONE && protected(w, c)))
            return false;
    }
    return true;
}

enum { DEPTH = 6, MOST_NEAREST = 64 };

// Hides something of an equation, or of either of two (other may be ATTACK_NONE); false if all that
// they rest on is hidden already.
static bool break_either(Work *w, guint equation, guint other) {
    guint best = ATTACK_NONE;
    double least = INFINITY;
    for (guint depth = 0; depth <= DEPTH && best == ATTACK_NONE; depth++) {
        cheapest(w, equation, depth, &best, &least);
        if (other != ATTACK_NONE)
            cheapest(w, other, depth, &best, &least);
    }
    if (best == ATTACK_NONE)
        return false;
    hide(w, best);
    return true;
}

static bool break_equation(Work *w, guint equation) {
    return break_either(w, equation, ATTACK_NONE);
}

// Small counts that follow from one equation, and sums of hidden counts that are small. How many
// were there, some of which may have gone with others.
static guint mend_found(Work *w) {
    guint found = 0;
    for (guint c = 0; c < w->a->counts; c++)
        if (w->a->found_by[c] != ATTACK_NONE && protected(w, c)) {
            found++;
            if (is_root(w, w->a->found_by[c], c))
                break_equation(w, w->a->found_by[c]);
        }
    for (guint q = 0, other; q < w->a->equation->len; q++)
        if (attack_sum(w->a, q, w->h->least, &other)) {
            found++;
            if (is_root(w, q, ATTACK_NONE) &&
                (other == ATTACK_NONE || is_root(w, other, ATTACK_NONE)))
                break_either(w, q, other);
        }
    return found;
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

// Hides something of an equation that a count stands in. Where nothing of these is shown any more,
// mending others may help; if it does not, what is nearest goes.
static void mend_count(Work *w, guint count) {
    const AttackCount *of = &w->a->count[count];
    for (guint k = 0; k < of->equations; k++)
        if (break_equation(w, w->a->holds_in[of->first_equation + k]))
            return;
    if (w->anywhere)
        hide_nearest(w, count);
}

// Small counts whose least and most are the same.
static guint mend_bound(Work *w) {
    guint *pinned_by = g_new(guint, w->a->counts + 1), found = 0;
    attack_bound(w->a, pinned_by);
    for (guint c = 0; c < w->a->counts; c++) {
        if (pinned_by[c] == ATTACK_NONE || !protected(w, c))
            continue;
        found++;
        if (!break_equation(w, pinned_by[c]))
            mend_count(w, c);
    }
    g_free(pinned_by);
    return found;
}

// Small counts that follow from all equations together.
static guint mend_solved(Work *w) {
    bool *determined = g_new(bool, w->a->counts + 1);
    guint found = 0;
    attack_solve(w->a, determined);
    for (guint c = 0; c < w->a->counts; c++)
        if (determined[c] && protected(w, c)) {
            found++;
            mend_count(w, c);
        }
    g_free(determined);
    return found;
}

// One round: 0 if nothing more can be found out.
static guint mend(Work *w) {
    guint found;
    attack_try(w->a, w->h->of);
    memset(w->touched, 0, w->a->counts);
    w->hidden = 0;
    if ((found = mend_found(w)) == 0 && (found = mend_bound(w)) == 0)
        found = mend_solved(w);
    return found;
}

// Rows that were hidden for others' sake, those with most records first.
static gint by_records(gconstpointer a, gconstpointer b, gpointer estimates) {
    const GArray *rows = ((const Estimates *)estimates)->rows;
    const guint i = *(const guint *)a, k = *(const guint *)b;
    const double x = records(&g_array_index(rows, Estimate, i)),
                 y = records(&g_array_index(rows, Estimate, k));
    return x != y ? (x < y ? 1 : -1) : (i > k) - (i < k);
}

// What was hidden row by row may be more than is needed once all is hidden: shows again what still
// gives nothing away.
static void show_again(Work *w) {
    GArray *rows = g_array_new(FALSE, FALSE, sizeof(guint));
    for (guint k = 0; k < w->e->rows->len; k++)
        if (w->h->of[k] == HIDING_DERIVED)
            g_array_append_val(rows, k);
    g_array_sort_with_data(rows, by_records, (gpointer)w->e);
    for (guint i = 0; i < rows->len; i++)
        if (attack_show(w->a, g_array_index(rows, guint, i), w->h->least))
            w->h->of[g_array_index(rows, guint, i)] = HIDING_SHOWN;
    g_array_unref(rows);
}

// If no way to mend it is known: rather nothing than too much.
static void hide_all(Work *w) {
    for (guint k = 0; k < w->e->rows->len; k++)
        if (w->h->of[k] == HIDING_SHOWN)
            w->h->of[k] = HIDING_DERIVED;
}

static void mend_all(Work *w) {
    w->anywhere = false;
    w->nearest = 1;
    while (mend(w) > 0) {
        if (w->hidden == 0 && w->anywhere) {
            hide_all(w);
            return;
        }
        w->nearest *= w->anywhere && w->nearest < MOST_NEAREST ? 2 : 1;
        w->anywhere = w->hidden == 0;
    }
}

static void hide_derived(const Estimates *e, Hiding *h) {
    SeriesTable *series = series_new(e);
    Links *links = links_new(e, series);
    Work w = {e, h, attack_new(e, series, links), NULL, 0, false, 1};
    w.touched = g_new0(bool, w.a->counts + 1);
    mend_all(&w);
    show_again(&w); // what follows by bounds or from all equations together is not seen there
    mend_all(&w);
    g_free(w.touched);
    attack_free(w.a);
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
