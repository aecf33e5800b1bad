// SPDX-License-Identifier: GPL-3.0-or-later
// Sparse elimination modulo a prime, and one random solution.
#include "stats/determined.h"

#include <stdlib.h>

static const uint64_t prime = 2147483647;

typedef struct {
    uint32_t unknown;
    uint32_t times; // modulo the prime
} Term;

// Its terms, by unknown; used: it has eliminated an unknown, and is left alone.
typedef struct {
    Term *term;
    size_t n;
    bool used;
} Equation;

typedef struct {
    uint32_t *in; // equations in which the unknown may stand, some more than once
    size_t n, room, degree;
} Unknown;

// Unknowns by how many equations they stand in, the rarest first: a heap whose entries may be old.
typedef struct {
    uint64_t *entry; // degree * 2^32 + unknown
    size_t n, room;
} Heap;

typedef struct {
    Equation *equation;
    size_t equations;
    Unknown *unknown;
    size_t unknowns;
    Heap heap;
    uint32_t *pivot; // unknowns that were eliminated, in order, and the equation of each
    uint32_t *by;
    size_t pivots;
    bool failed; // memory ran out
} Work;

static uint64_t power(uint64_t base, uint64_t exponent) {
    uint64_t result = 1;
    for (; exponent > 0; exponent >>= 1) {
        if (exponent & 1)
            result = result * base % prime;
        base = base * base % prime;
    }
    return result;
}

static uint64_t inverse(uint64_t x) {
    return power(x, prime - 2);
}

static uint32_t modulo(int32_t times) {
    const int64_t rest = times % (int64_t)prime;
    return (uint32_t)(rest < 0 ? rest + (int64_t)prime : rest);
}

// Room for one more; the block, moved if need be, NULL if memory ran out.
static void *grown(Work *w, void *block, size_t n, size_t *room, size_t size) {
    if (n < *room)
        return block;
    const size_t more = *room * 2 + 8;
    void *moved = realloc(block, more * size);
    if (!moved) {
        w->failed = true;
        return block;
    }
    *room = more;
    return moved;
}

// ---- the heap ----

static void heap_add(Work *w, uint32_t unknown) {
    Heap *h = &w->heap;
    h->entry = grown(w, h->entry, h->n, &h->room, sizeof *h->entry);
    if (w->failed)
        return;
    const uint64_t entry = (uint64_t)w->unknown[unknown].degree << 32 | unknown;
    size_t at = h->n++;
    for (; at > 0 && h->entry[(at - 1) / 2] > entry; at = (at - 1) / 2)
        h->entry[at] = h->entry[(at - 1) / 2];
    h->entry[at] = entry;
}

static uint64_t heap_take(Heap *h) {
    const uint64_t top = h->entry[0], last = h->entry[--h->n];
    size_t at = 0;
    for (size_t next; (next = 2 * at + 1) < h->n; at = next) {
        next += next + 1 < h->n && h->entry[next + 1] < h->entry[next];
        if (h->entry[next] >= last)
            break;
        h->entry[at] = h->entry[next];
    }
    h->entry[at] = last;
    return top;
}

// ---- equations ----

static void enters(Work *w, uint32_t unknown, uint32_t equation) {
    Unknown *u = &w->unknown[unknown];
    u->in = grown(w, u->in, u->n, &u->room, sizeof *u->in);
    if (w->failed)
        return;
    u->in[u->n++] = equation;
    u->degree++;
}

static void leaves(Work *w, uint32_t unknown) {
    w->unknown[unknown].degree--;
    heap_add(w, unknown);
}

static const Term *find(const Equation *e, uint32_t unknown) {
    size_t low = 0, high = e->n;
    while (low < high) {
        const size_t middle = (low + high) / 2;
        if (e->term[middle].unknown < unknown)
            low = middle + 1;
        else
            high = middle;
    }
    return low < e->n && e->term[low].unknown == unknown ? &e->term[low] : NULL;
}

// Adds `times` of the equation `by` to another, in which the unknown `gone` vanishes.
static void add_multiple(Work *w, uint32_t to, const Equation *by, uint64_t times, uint32_t gone) {
    Equation *e = &w->equation[to];
    size_t n = 0;
    Term *moved = malloc((e->n + by->n) * sizeof *moved);
    if (!moved) {
        w->failed = true;
        return;
    }
    for (size_t i = 0, k = 0; i < e->n || k < by->n;) {
        const bool own = k == by->n || (i < e->n && e->term[i].unknown <= by->term[k].unknown);
        const bool other = i == e->n || (k < by->n && by->term[k].unknown <= e->term[i].unknown);
        const uint32_t unknown = own ? e->term[i].unknown : by->term[k].unknown;
        const uint64_t sum =
            ((own ? e->term[i].times : 0) + (other ? times * by->term[k].times : 0)) % prime;
        i += own;
        k += other;
        if (sum != 0 && unknown != gone)
            moved[n++] = (Term){unknown, (uint32_t)sum};
        if (!own)
            enters(w, unknown, to);
        else if ((sum == 0 || unknown == gone) && unknown != gone)
            leaves(w, unknown);
    }
    free(e->term);
    e->term = moved;
    e->n = n;
}

// Eliminates an unknown by the shortest equation that it stands in, which is put away.
static void eliminate(Work *w, uint32_t unknown) {
    Unknown *u = &w->unknown[unknown];
    uint32_t by = UINT32_MAX;
    for (size_t k = 0; k < u->n; k++) {
        const Equation *e = &w->equation[u->in[k]];
        if (!e->used && find(e, unknown) && (by == UINT32_MAX || e->n < w->equation[by].n))
            by = u->in[k];
    }
    if (by == UINT32_MAX)
        return;
    Equation *used = &w->equation[by];
    const uint64_t own = inverse(find(used, unknown)->times);
    used->used = true;
    for (size_t k = 0; k < u->n && !w->failed; k++) {
        const Equation *e = &w->equation[u->in[k]];
        const Term *t = e->used ? NULL : find(e, unknown);
        if (t)
            add_multiple(w, u->in[k], used, (prime - t->times) * own % prime, unknown);
    }
    for (size_t k = 0; k < used->n && !w->failed; k++)
        if (used->term[k].unknown != unknown)
            leaves(w, used->term[k].unknown);
    w->pivot[w->pivots] = unknown;
    w->by[w->pivots++] = by;
}

// All unknowns, those first that stand in fewest equations.
static void eliminate_all(Work *w) {
    bool *done = calloc(w->unknowns + 1, sizeof *done);
    w->failed |= !done;
    for (size_t u = 0; u < w->unknowns && !w->failed; u++)
        heap_add(w, (uint32_t)u);
    while (!w->failed && w->heap.n > 0) {
        const uint64_t entry = heap_take(&w->heap);
        const uint32_t unknown = (uint32_t)entry;
        if (done[unknown])
            continue;
        if (entry >> 32 != w->unknown[unknown].degree) {
            heap_add(w, unknown);
            continue;
        }
        done[unknown] = true;
        eliminate(w, unknown);
    }
    free(done);
}

// ---- one solution ----

// The next of a row of random numbers (SplitMix64: Steele, Lea & Flood 2014).
static uint64_t drawn(uint64_t *state) {
    uint64_t z = *state += 0x9e3779b97f4a7c15;
    z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9;
    z = (z ^ z >> 27) * 0x94d049bb133111eb;
    return z ^ z >> 31;
}

// Free unknowns at random, then the others, the last eliminated first.
static void solve(Work *w, uint64_t *value) {
    uint64_t state = 1;
    for (size_t u = 0; u < w->unknowns; u++)
        value[u] = 1 + drawn(&state) % (prime - 1);
    for (size_t k = w->pivots; k-- > 0;) {
        const Equation *e = &w->equation[w->by[k]];
        uint64_t sum = 0, own = 1;
        for (size_t i = 0; i < e->n; i++)
            if (e->term[i].unknown == w->pivot[k])
                own = e->term[i].times;
            else
                sum = (sum + e->term[i].times * value[e->term[i].unknown]) % prime;
        value[w->pivot[k]] = (prime - sum) % prime * inverse(own) % prime;
    }
}

// ---- in and out ----

static int by_unknown(const void *a, const void *b) {
    const Term *x = a, *y = b;
    return (x->unknown > y->unknown) - (x->unknown < y->unknown);
}

static void take_equation(Work *w, uint32_t k, const DeterminedTerm *term, size_t n) {
    Equation *e = &w->equation[k];
    e->term = malloc((n + 1) * sizeof *e->term);
    w->failed |= !e->term;
    for (size_t i = 0; i < n && !w->failed; i++) {
        e->term[e->n++] = (Term){term[i].unknown, modulo(term[i].times)};
        enters(w, term[i].unknown, k);
    }
    if (e->term)
        qsort(e->term, e->n, sizeof *e->term, by_unknown);
}

static void clear(Work *w) {
    for (size_t k = 0; w->equation && k < w->equations; k++)
        free(w->equation[k].term);
    for (size_t u = 0; w->unknown && u < w->unknowns; u++)
        free(w->unknown[u].in);
    free(w->equation);
    free(w->unknown);
    free(w->pivot);
    free(w->by);
    free(w->heap.entry);
}

bool determined_find(size_t unknowns, size_t equations, const size_t *first,
                     const DeterminedTerm *term, bool *determined) {
    Work w = {.equation = calloc(equations + 1, sizeof *w.equation),
              .equations = equations,
              .unknown = calloc(unknowns + 1, sizeof *w.unknown),
              .unknowns = unknowns,
              .pivot = malloc((unknowns + 1) * sizeof *w.pivot),
              .by = malloc((unknowns + 1) * sizeof *w.by)};
    uint64_t *value = calloc(unknowns + 1, sizeof *value);
    w.failed = !w.equation || !w.unknown || !w.pivot || !w.by || !value;
    for (size_t k = 0; k < equations && !w.failed; k++)
        take_equation(&w, (uint32_t)k, term + first[k], first[k + 1] - first[k]);
    eliminate_all(&w);
    if (!w.failed) {
        solve(&w, value);
        for (size_t u = 0; u < unknowns; u++)
            determined[u] = value[u] == 0;
    }
    clear(&w);
    free(value);
    return !w.failed;
}
