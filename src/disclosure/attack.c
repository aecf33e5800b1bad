// SPDX-License-Identifier: GPL-3.0-or-later
// Equations between counts, and what follows from them.
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
    a->news = g_array_new(FALSE, FALSE, sizeof(guint));
    a->found_by = g_new(guint, a->counts + 1);
    a->known = g_new(bool, a->counts + 1);
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
    g_array_unref(a->news);
    g_free(a->count);
    g_free(a->row);
    g_free(a->of_row);
    g_free(a->holds_in);
    g_free(a->found_by);
    g_free(a->known);
    g_free(a);
}

// ---- one equation after the other ----

static guint term(const Attack *a, const AttackEquation *q, guint i) {
    return g_array_index(a->term, guint, q->first + i);
}

// What the unknown parts of an equation add up to; 0 also where the sum is not known.
static uint64_t rest_of(const Attack *a, const AttackEquation *q) {
    const guint sum = term(a, q, q->n - 1);
    uint64_t rest = a->known[sum] ? a->count[sum].value : 0;
    for (guint i = 0; a->known[sum] && i + 1 < q->n; i++)
        if (a->known[term(a, q, i)])
            rest -= a->count[term(a, q, i)].value;
    return rest;
}

static bool is_small(uint64_t n, unsigned least) {
    return n > 0 && n < least;
}

// What is left of the rest of an equation once a part of it is replaced by that part's own parts,
// as another equation has them.
static uint64_t rest_within(const Attack *a, uint64_t rest, const AttackEquation *of_part) {
    for (guint i = 0; i + 1 < of_part->n; i++)
        if (a->known[term(a, of_part, i)])
            rest -= a->count[term(a, of_part, i)].value;
    return rest;
}

bool attack_sum(const Attack *a, guint equation, unsigned least, guint *other) {
    const AttackEquation *q = &g_array_index(a->equation, AttackEquation, equation);
    const uint64_t rest = rest_of(a, q);
    *other = ATTACK_NONE;
    if (is_small(rest, least))
        return true;
    for (guint i = 0; rest > 0 && i + 1 < q->n; i++) {
        const guint part = term(a, q, i);
        const AttackCount *c = &a->count[part];
        for (guint k = 0; !a->known[part] && k < c->equations; k++) {
            *other = a->holds_in[c->first_equation + k];
            const AttackEquation *own = &g_array_index(a->equation, AttackEquation, *other);
            if (*other != equation && term(a, own, own->n - 1) == part &&
                is_small(rest_within(a, rest, own), least))
                return true;
        }
    }
    *other = ATTACK_NONE;
    return false;
}

static void find(Attack *a, guint count, guint by, GQueue *todo) {
    if (a->known[count])
        return;
    a->known[count] = true;
    a->found_by[count] = by;
    g_array_append_val(a->news, count);
    for (guint k = 0; k < a->count[count].equations; k++)
        g_queue_push_tail(todo, GUINT_TO_POINTER(a->holds_in[a->count[count].first_equation + k]));
}

// What follows from one equation.
static void look(Attack *a, guint index, GQueue *todo) {
    const AttackEquation *q = &g_array_index(a->equation, AttackEquation, index);
    guint unknown = 0, last = 0;
    for (guint i = 0; i < q->n; i++)
        if (!a->known[term(a, q, i)]) {
            unknown++;
            last = term(a, q, i);
        }
    if (unknown == 1)
        find(a, last, index, todo);
    else if (unknown > 1 && a->known[term(a, q, q->n - 1)] && rest_of(a, q) == 0)
        for (guint i = 0; i < q->n; i++)
            find(a, term(a, q, i), index, todo);
}

void attack_try(Attack *a, const uint8_t *hidden) {
    GQueue todo = G_QUEUE_INIT;
    for (guint c = 0; c < a->counts; c++) {
        const AttackCount *of = &a->count[c];
        a->found_by[c] = ATTACK_NONE;
        a->known[c] = false;
        for (guint k = 0; k < of->rows && !a->known[c]; k++)
            a->known[c] = !hidden[a->row[of->first_row + k]];
    }
    for (guint q = 0; q < a->equation->len; q++)
        look(a, q, &todo);
    while (!g_queue_is_empty(&todo))
        look(a, GPOINTER_TO_UINT(g_queue_pop_head(&todo)), &todo);
    g_array_set_size(a->news, 0);
}

// ---- one row more ----

// Whether small sums follow from an equation, or from one that its sum is a part of.
static bool tells_sum(const Attack *a, guint equation, unsigned least) {
    const AttackEquation *q = &g_array_index(a->equation, AttackEquation, equation);
    const AttackCount *sum = &a->count[term(a, q, q->n - 1)];
    guint other;
    if (attack_sum(a, equation, least, &other))
        return true;
    for (guint k = 0; !a->known[term(a, q, q->n - 1)] && k < sum->equations; k++)
        if (attack_sum(a, a->holds_in[sum->first_equation + k], least, &other))
            return true;
    return false;
}

// Whether a count that has become known gives something small away.
static bool tells(const Attack *a, guint count, unsigned least) {
    const AttackCount *c = &a->count[count];
    if (is_small(c->value, least))
        return true;
    for (guint k = 0; k < c->equations; k++)
        if (tells_sum(a, a->holds_in[c->first_equation + k], least))
            return true;
    return false;
}

bool attack_show(Attack *a, guint row, unsigned least) {
    GQueue todo = G_QUEUE_INIT;
    const guint before = a->news->len;
    for (guint k = 0; k < SERIES_COUNTS; k++)
        if (a->of_row[row * SERIES_COUNTS + k] != ATTACK_NONE)
            find(a, a->of_row[row * SERIES_COUNTS + k], ATTACK_NONE, &todo);
    while (!g_queue_is_empty(&todo))
        look(a, GPOINTER_TO_UINT(g_queue_pop_head(&todo)), &todo);
    bool good = true;
    for (guint k = before; k < a->news->len && good; k++)
        good = !tells(a, g_array_index(a->news, guint, k), least);
    for (guint k = before; k < a->news->len && !good; k++) {
        a->known[g_array_index(a->news, guint, k)] = false;
        a->found_by[g_array_index(a->news, guint, k)] = ATTACK_NONE;
    }
    g_array_set_size(a->news, before);
    return good;
}

// ---- the least and the most that a count can be ----

enum { MOST_ROUNDS = 1000 }; // of going through all equations

static const uint64_t unbounded = (uint64_t)1 << 40; // above any sum of counts

typedef struct {
    uint64_t least, most;
} Bounds;

// Of parts together: the most of those that have one, and how many have none.
typedef struct {
    uint64_t least, most;
    guint open;
} Parts;

static void add_part(Parts *p, const Bounds *b) {
    p->least += b->least;
    p->most += b->most < unbounded ? b->most : 0;
    p->open += b->most >= unbounded;
}

static Parts without(const Parts *p, const Bounds *b) {
    const bool open = b->most >= unbounded;
    return (Parts){p->least - b->least, p->most - (open ? 0 : b->most), p->open - open};
}

// What one equation says of a part, or, the others being all parts, of their sum.
static Bounds said_of_part(const Bounds *sum, const Parts *others) {
    const bool least = others->open == 0 && sum->least > others->most;
    return (Bounds){least ? sum->least - others->most : 0,
                    sum->most < unbounded ? sum->most - others->least : unbounded};
}

static Bounds said_of_sum(const Parts *p) {
    return (Bounds){p->least, p->open ? unbounded : p->most};
}

// Tightens the bounds of an equation's terms; whether any changed. by: see attack_bound.
static bool bound(const Attack *a, guint index, Bounds *of, guint *by) {
    const AttackEquation *q = &g_array_index(a->equation, AttackEquation, index);
    const Bounds *sum = &of[term(a, q, q->n - 1)];
    Parts all = {0, 0, 0};
    bool changed = false;
    for (guint i = 0; i + 1 < q->n; i++)
        add_part(&all, &of[term(a, q, i)]);
    for (guint i = 0; i < q->n; i++) {
        const guint c = term(a, q, i);
        const bool part = i + 1 < q->n;
        Parts others = all;
        if (part)
            others = without(&all, &of[c]);
        const Bounds said = part ? said_of_part(sum, &others) : said_of_sum(&all);
        const Bounds now = {MAX(of[c].least, said.least), MIN(of[c].most, said.most)};
        if (a->known[c] || (now.least == of[c].least && now.most == of[c].most))
            continue;
        changed = true;
        of[c] = now;
        if (now.least == now.most)
            by[c] = index;
        all = others;
        if (part)
            add_part(&all, &now);
    }
    return changed;
}

void attack_bound(const Attack *a, guint *pinned_by) {
    Bounds *of = g_new0(Bounds, a->counts + 1);
    for (guint c = 0; c < a->counts; c++) {
        const uint64_t value = a->count[c].value;
        // A 0 is no reason to hide a row, so whoever finds a hidden one may take it for more.
        of[c] = a->known[c] ? (Bounds){value, value} : (Bounds){value > 0, unbounded};
        pinned_by[c] = ATTACK_NONE;
    }
    bool changed = true;
    for (guint round = 0; changed && round < MOST_ROUNDS; round++) {
        changed = false;
        for (guint q = 0; q < a->equation->len; q++)
            changed |= bound(a, q, of, pinned_by);
    }
    g_free(of);
}

// ---- all equations together ----

// The terms of an equation that are not known, each once.
static void add_unknown(const Attack *a, const AttackEquation *q, GArray *terms) {
    const guint first = terms->len;
    for (guint i = 0; i < q->n; i++) {
        const guint c = term(a, q, i);
        DeterminedTerm t = {c, i + 1 < q->n ? 1 : -1};
        guint k = first;
        while (k < terms->len && g_array_index(terms, DeterminedTerm, k).unknown != c)
            k++;
        if (a->known[c])
            continue;
        if (k == terms->len)
            g_array_append_val(terms, t);
        else
            g_array_index(terms, DeterminedTerm, k).times += t.times;
    }
}

void attack_solve(const Attack *a, bool *determined) {
    GArray *terms = g_array_new(FALSE, FALSE, sizeof(DeterminedTerm));
    size_t *first = g_new(size_t, a->equation->len + 1), n = 0;
    for (guint q = 0; q < a->equation->len; q++) {
        first[n] = terms->len;
        add_unknown(a, &g_array_index(a->equation, AttackEquation, q), terms);
        n += terms->len > first[n];
    }
    first[n] = terms->len;
    if (!determined_find(a->counts, n, first, (const DeterminedTerm *)(void *)terms->data,
                         determined))
        g_error("no memory left to see whether hidden counts can be found out");
    for (guint c = 0; c < a->counts; c++)
        determined[c] = determined[c] && !a->known[c];
    g_free(first);
    g_array_unref(terms);
}
