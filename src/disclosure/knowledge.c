// SPDX-License-Identifier: GPL-3.0-or-later
// Bounds of counts, tightened row by row.
#include "disclosure/knowledge.h"

#include <string.h>

static const uint64_t unbounded = (uint64_t)1 << 40; // above any sum of counts

typedef struct {
    guint count;
    KnowledgeBounds was;
} Change;

bool knowledge_of(const Knowledge *k, guint count) {
    return k->of[count].least == k->of[count].most;
}

static const AttackEquation *equation_at(const Knowledge *k, guint q) {
    return &g_array_index(k->a->equation, AttackEquation, q);
}

static guint term(const Knowledge *k, const AttackEquation *q, guint i) {
    return g_array_index(k->a->term, guint, q->first + i);
}

static void queue(Knowledge *k, guint equation) {
    if (k->queued[equation])
        return;
    k->queued[equation] = true;
    g_queue_push_tail(&k->todo, GUINT_TO_POINTER(equation));
}

// Bounds of a count become narrower.
static void narrow(Knowledge *k, guint count, KnowledgeBounds now) {
    const AttackCount *c = &k->a->count[count];
    const Change change = {count, k->of[count]};
    g_array_append_val(k->journal, change);
    k->of[count] = now;
    for (guint i = 0; i < c->equations; i++)
        queue(k, k->a->holds_in[c->first_equation + i]);
}

// ---- one equation ----

// Of parts together: the most of those that have one, and how many have none.
typedef struct {
    uint64_t least, most;
    guint open;
} Parts;

static void add_part(Parts *p, const KnowledgeBounds *b) {
    p->least += b->least;
    p->most += b->most < unbounded ? b->most : 0;
    p->open += b->most >= unbounded;
}

// What an equation says of a part, given the others.
static KnowledgeBounds said_of_part(const KnowledgeBounds *sum, const Parts *all,
                                    const KnowledgeBounds *part) {
    const bool open = part->most >= unbounded;
    const uint64_t most = all->most - (open ? 0 : part->most);
    const bool least = all->open == (guint)open && sum->least > most;
    return (KnowledgeBounds){least ? sum->least - most : 0,
                             sum->most < unbounded ? sum->most - (all->least - part->least)
                                                   : unbounded};
}

static void tighten(Knowledge *k, guint count, KnowledgeBounds said) {
    const KnowledgeBounds was = k->of[count],
                          now = {MAX(was.least, said.least), MIN(was.most, said.most)};
    if (now.least != was.least || now.most != was.most)
        narrow(k, count, now);
}

static void look(Knowledge *k, guint equation) {
    const AttackEquation *q = equation_at(k, equation);
    const guint sum = term(k, q, q->n - 1);
    Parts all = {0, 0, 0};
    for (guint i = 0; i + 1 < q->n; i++)
        add_part(&all, &k->of[term(k, q, i)]);
    tighten(k, sum, (KnowledgeBounds){all.least, all.open ? unbounded : all.most});
    for (guint i = 0; i + 1 < q->n; i++) // what it says of one is not used for the next yet
        tighten(k, term(k, q, i), said_of_part(&k->of[sum], &all, &k->of[term(k, q, i)]));
}

// ---- what must not be known ----

static bool is_small(const Knowledge *k, uint64_t n) {
    return n > 0 && n < k->least;
}

// The known parts of an equation.
static uint64_t known_parts(const Knowledge *k, const AttackEquation *q) {
    uint64_t sum = 0;
    for (guint i = 0; i + 1 < q->n; i++)
        if (knowledge_of(k, term(k, q, i)))
            sum += k->a->count[term(k, q, i)].value;
    return sum;
}

// Whether what is left of a sum is small once a hidden part of it is replaced by that part's own
// parts, by any other equation.
static bool small_within(const Knowledge *k, guint equation, guint part, uint64_t rest) {
    const AttackCount *c = &k->a->count[part];
    for (guint i = 0; i < c->equations; i++) {
        const guint other = k->a->holds_in[c->first_equation + i];
        const AttackEquation *own = equation_at(k, other);
        if (other != equation && term(k, own, own->n - 1) == part &&
            is_small(k, rest - known_parts(k, own)))
            return true;
    }
    return false;
}

static bool tells_small(const Knowledge *k, guint equation) {
    const AttackEquation *q = equation_at(k, equation);
    const guint sum = term(k, q, q->n - 1);
    const uint64_t rest = knowledge_of(k, sum) ? k->a->count[sum].value - known_parts(k, q) : 0;
    bool small = is_small(k, rest);
    for (guint i = 0; rest > 0 && !small && i + 1 < q->n; i++)
        small = !knowledge_of(k, term(k, q, i)) && small_within(k, equation, term(k, q, i), rest);
    return small;
}

// Whether an equation, or one that its sum is a hidden part of, does.
static bool tells_near(const Knowledge *k, guint equation) {
    const AttackEquation *q = equation_at(k, equation);
    const guint sum = term(k, q, q->n - 1);
    const AttackCount *c = &k->a->count[sum];
    bool small = tells_small(k, equation);
    for (guint i = 0; !small && !knowledge_of(k, sum) && i < c->equations; i++)
        small = tells_small(k, k->a->holds_in[c->first_equation + i]);
    return small;
}

static bool tells(const Knowledge *k, guint count) {
    const AttackCount *c = &k->a->count[count];
    bool small = is_small(k, c->value);
    for (guint i = 0; !small && i < c->equations; i++)
        small = tells_near(k, k->a->holds_in[c->first_equation + i]);
    return small;
}

// ---- rows ----

static void know(Knowledge *k, guint count) {
    const uint64_t value = k->a->count[count].value;
    if (!knowledge_of(k, count))
        narrow(k, count, (KnowledgeBounds){value, value});
}

static void know_row(Knowledge *k, guint row) {
    for (guint i = 0; i < SERIES_COUNTS; i++)
        if (k->a->of_row[row * SERIES_COUNTS + i] != ATTACK_NONE)
            know(k, k->a->of_row[row * SERIES_COUNTS + i]);
}

static bool next(Knowledge *k) {
    if (g_queue_is_empty(&k->todo))
        return false;
    const guint equation = GPOINTER_TO_UINT(g_queue_pop_head(&k->todo));
    k->queued[equation] = false;
    look(k, equation);
    return true;
}

// Whether the changes from one on made anything small known.
static bool made_small_known(const Knowledge *k, guint from) {
    for (guint i = from; i < k->journal->len; i++) {
        const guint count = g_array_index(k->journal, Change, i).count;
        if (knowledge_of(k, count) && is_small(k, k->a->count[count].value))
            return true;
    }
    return false;
}

static void undo(Knowledge *k) {
    while (!g_queue_is_empty(&k->todo))
        k->queued[GPOINTER_TO_UINT(g_queue_pop_head(&k->todo))] = false;
    for (guint i = k->journal->len; i-- > 0;) {
        const Change *c = &g_array_index(k->journal, Change, i);
        k->of[c->count] = c->was;
    }
}

bool knowledge_show(Knowledge *k, guint row) {
    guint seen = 0;
    bool good = true, more = true;
    g_array_set_size(k->journal, 0);
    know_row(k, row);
    while (good && more) {
        good = !made_small_known(k, seen);
        seen = k->journal->len;
        more = next(k);
    }
    for (guint i = 0; good && i < k->journal->len; i++) {
        const guint count = g_array_index(k->journal, Change, i).count;
        good = !knowledge_of(k, count) || !tells(k, count);
    }
    if (!good)
        undo(k);
    return good;
}

guint knowledge_learn(Knowledge *k, bool *also, bool *more) {
    guint n = 0;
    g_array_set_size(k->journal, 0);
    for (guint c = 0; c < k->a->counts; c++)
        if (also[c])
            know(k, c);
    const guint given = k->journal->len;
    while (next(k))
        ;
    *more = false;
    for (guint i = given; i < k->journal->len && !*more; i++)
        *more = knowledge_of(k, g_array_index(k->journal, Change, i).count);
    memset(also, 0, k->a->counts * sizeof *also);
    for (guint i = 0; i < k->journal->len; i++) {
        const guint count = g_array_index(k->journal, Change, i).count;
        if (!also[count] && knowledge_of(k, count) && tells(k, count))
            n += also[count] = true;
    }
    return n;
}

void knowledge_reset(Knowledge *k, const uint8_t *hidden, guint rows) {
    for (guint c = 0; c < k->a->counts; c++)
        k->of[c] = (KnowledgeBounds){k->a->count[c].value > 0, unbounded};
    for (guint q = 0; q < k->a->equation->len; q++)
        queue(k, q);
    for (guint r = 0; r < rows; r++)
        if (!hidden[r])
            know_row(k, r);
    while (next(k))
        g_array_set_size(k->journal, 0);
}

Knowledge *knowledge_new(const Attack *a, unsigned least) {
    Knowledge *k = g_new(Knowledge, 1);
    *k = (Knowledge){a,
                     least,
                     g_new(KnowledgeBounds, a->counts + 1),
                     g_new0(bool, a->equation->len + 1),
                     G_QUEUE_INIT,
                     g_array_new(FALSE, FALSE, sizeof(Change))};
    knowledge_reset(k, NULL, 0);
    return k;
}

void knowledge_free(Knowledge *k) {
    g_queue_clear(&k->todo);
    g_array_unref(k->journal);
    g_free(k->of);
    g_free(k->queued);
    g_free(k);
}
