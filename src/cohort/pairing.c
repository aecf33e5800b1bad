// SPDX-License-Identifier: GPL-3.0-or-later
// Choosing pairs: rows alike in all that counts form one bunch, bunches near in time are pairs,
// pairs are taken best first.
#include "cohort/pairing.h"

#include "record/when.h"

#include <stdlib.h>

typedef enum { FREE, JOINED, DOUBTFUL } State;

typedef struct {
    const PairingEntry *first; // rows [first, first + n) are alike
    uint32_t n;
    uint32_t taken;  // of would_join
    uint32_t degree; // pairs of the class at hand
    State state;
    bool only_ends;
    uint64_t partners;
    const PairingEntry *example;
} Bunch;

typedef struct {
    Bunch *sender, *receiver;
    int32_t near, far; // minutes apart, INT32_MAX if none can be compared
    uint8_t differing; // of band and condition, those that are not known to agree
    bool only_ends;
} Pair;

typedef struct {
    const PairingRules *rules;
    Bunch *side[2];
    Bunch **order[2]; // by the time at hand
    size_t n[2];
    GArray *pairs;
} Block;

#define COMPARE(x, y)                                                                              \
    if ((x) != (y))                                                                                \
    return (x) < (y) ? -1 : 1

// Order of rows that are not alike; 0 if they are.
static int compare_alike(const PairingEntry *x, const PairingEntry *y) {
    COMPARE(x->block, y->block);
    COMPARE(x->from, y->from);
    COMPARE(x->receiver, y->receiver);
    for (int i = 0; i < PAIRING_TIMES; i++)
        COMPARE(x->at[i], y->at[i]);
    COMPARE(x->day, y->day);
    COMPARE(x->to, y->to);
    COMPARE(x->band, y->band);
    COMPARE(x->condition, y->condition);
    return 0;
}

static int compare_entries(const void *a, const void *b) {
    const PairingEntry *x = a, *y = b;
    const int alike = compare_alike(x, y);
    return alike ? alike : (x->place > y->place) - (x->place < y->place);
}

static int compare_goodness(const Pair *x, const Pair *y) {
    COMPARE(x->only_ends, y->only_ends);
    COMPARE(x->differing, y->differing);
    COMPARE(x->near, y->near);
    COMPARE(x->far, y->far);
    return 0;
}

static int compare_pairs(const void *a, const void *b) {
    const Pair *x = a, *y = b;
    const int better = compare_goodness(x, y);
    if (better)
        return better;
    COMPARE(x->sender, y->sender);
    COMPARE(x->receiver, y->receiver);
    return 0;
}

static bool unlike(uint8_t a, uint8_t b) {
    return a && b && a != b;
}

// Minutes between two stamps, -1 if they can't be compared.
static int32_t apart(const PairingEntry *s, const PairingEntry *r, int which) {
    const int32_t a = s->at[which], b = r->at[which];
    return a == WHEN_UNKNOWN || b == WHEN_UNKNOWN ? -1 : abs(a - b);
}

// Fills the pair's minutes; returns by which time it is found, so that it is found once:
// 0 departed, 1 arrived, 2 requested, PAIRING_TIMES the day; -1 if the times don't agree.
static int found_by(const PairingEntry *s, const PairingEntry *r, int32_t window, Pair *pair) {
    const int32_t left = apart(s, r, 0), came = apart(s, r, 1), asked = apart(s, r, 2);
    pair->near = pair->far = INT32_MAX;
    if (left < 0 && came < 0) {
        if (asked < 0)
            return PAIRING_TIMES;
        pair->near = asked;
        return asked <= window ? 2 : -1;
    }
    if (left >= 0 && came >= 0) {
        pair->near = MIN(left, came);
        pair->far = MAX(left, came);
    } else {
        pair->near = MAX(left, came);
    }
    return left >= 0 && left <= window ? 0 : came >= 0 && came <= window ? 1 : -1;
}

// Adds the pair if it can be one transfer and is found by the time at hand.
static void consider(Block *b, Bunch *s, Bunch *r, int by) {
    const PairingEntry *x = s->first, *y = r->first;
    Pair pair = {.sender = s, .receiver = r};
    if ((x->to && x->to != y->to) || found_by(x, y, b->rules->window, &pair) != by)
        return;
    if (!b->rules->same_id && (unlike(x->band, y->band) || unlike(x->condition, y->condition)))
        return;
    pair.differing = (uint8_t)((!x->band || x->band != y->band) +
                               (!x->condition || x->condition != y->condition));
    pair.only_ends = by == PAIRING_TIMES && !b->rules->same_id;
    g_array_append_val(b->pairs, pair);
}

static int32_t time_of(const Bunch *b, int by) {
    return by == PAIRING_TIMES ? b->first->day : b->first->at[by];
}

static int by_time(gconstpointer a, gconstpointer b, gpointer by) {
    const Bunch *x = *(Bunch *const *)a, *y = *(Bunch *const *)b;
    COMPARE(time_of(x, GPOINTER_TO_INT(by)), time_of(y, GPOINTER_TO_INT(by)));
    return (x > y) - (x < y);
}

// Bunches of a side that know the time at hand, in its order; returns how many.
static size_t put_in_order(Block *b, int side, int by) {
    size_t known = 0;
    for (size_t i = 0; i < b->n[side]; i++)
        if (time_of(&b->side[side][i], by) != WHEN_UNKNOWN)
            b->order[side][known++] = &b->side[side][i];
    g_qsort_with_data(b->order[side], (gint)known, sizeof(Bunch *), by_time, GINT_TO_POINTER(by));
    return known;
}

static void find_pairs(Block *b) {
    for (int by = 0; by <= PAIRING_TIMES; by++) {
        const size_t senders = put_in_order(b, 0, by), receivers = put_in_order(b, 1, by);
        const int64_t window = by == PAIRING_TIMES ? 0 : b->rules->window;
        size_t from = 0;
        for (size_t i = 0; i < senders; i++) {
            const int64_t at = time_of(b->order[0][i], by);
            while (from < receivers && time_of(b->order[1][from], by) < at - window)
                from++;
            for (size_t k = from; k < receivers && time_of(b->order[1][k], by) <= at + window; k++)
                consider(b, b->order[0][i], b->order[1][k], by);
        }
    }
    g_array_sort(b->pairs, compare_pairs);
}

static bool is_open(const Pair *p) {
    return p->sender->state == FREE && p->receiver->state == FREE;
}

// Pairs as good as each other: those whose rows have no second partner among them are joined.
static void take_class(Pair *pairs, size_t n, GArray *matches) {
    for (size_t i = 0; i < n; i++)
        pairs[i].sender->degree = pairs[i].receiver->degree = 0;
    for (size_t i = 0; i < n; i++)
        if (is_open(&pairs[i])) {
            pairs[i].sender->degree += pairs[i].receiver->n;
            pairs[i].receiver->degree += pairs[i].sender->n;
        }
    for (size_t i = 0; i < n; i++) {
        Bunch *s = pairs[i].sender, *r = pairs[i].receiver;
        if (s->state == JOINED || r->state == JOINED || s->degree == 0 || r->degree == 0)
            continue;
        if (s->degree == 1 && r->degree == 1) {
            const PairingMatch match = {s->first->row, r->first->row};
            g_array_append_val(matches, match);
            s->state = r->state = JOINED;
        } else {
            s->state = r->state = DOUBTFUL;
        }
    }
}

static void say_doubtful(Bunch *b, GArray *doubts) {
    for (uint32_t i = 0; b->partners > 0 && i < b->n; i++) {
        const PairingDoubt doubt = {b->first[i].row, b->example->row, b->partners, b->only_ends};
        g_array_append_val(doubts, doubt);
    }
}

static void note_partner(Bunch *b, const Bunch *partner, bool only_ends) {
    if (b->partners == 0) {
        b->example = partner->first;
        b->only_ends = only_ends;
    }
    b->partners += partner->n;
}

// What is left: pairs of rows that are not joined, where one is in doubt or only the ends agree.
static void count_doubtful(Block *b, Pairing *result) {
    for (guint i = 0; i < b->pairs->len; i++) {
        const Pair *p = &g_array_index(b->pairs, Pair, i);
        if (p->sender->state == JOINED || p->receiver->state == JOINED)
            continue;
        const uint32_t both =
            MIN(p->sender->n - p->sender->taken, p->receiver->n - p->receiver->taken);
        p->sender->taken += both;
        p->receiver->taken += both;
        result->would_join += both;
        result->doubtful += (uint64_t)p->sender->n * p->receiver->n;
        note_partner(p->sender, p->receiver, p->only_ends);
        note_partner(p->receiver, p->sender, p->only_ends);
    }
    for (int side = 0; side < 2; side++)
        for (size_t i = 0; i < b->n[side]; i++)
            say_doubtful(&b->side[side][i], result->doubts);
}

static size_t make_bunches(const PairingEntry *entries, size_t n, Bunch *bunches) {
    size_t made = 0;
    for (size_t i = 0; i < n; i++)
        if (i > 0 && compare_alike(&entries[i - 1], &entries[i]) == 0)
            bunches[made - 1].n++;
        else
            bunches[made++] = (Bunch){.first = &entries[i], .n = 1};
    return made;
}

// Entries of one block: the sender's, then the receiver's.
static void pair_block(PairingEntry *entries, size_t senders, size_t n, const PairingRules *rules,
                       Pairing *result) {
    Bunch *bunches = g_new(Bunch, n);
    Bunch **order = g_new(Bunch *, n);
    Block b = {rules,
               {bunches, bunches + senders},
               {order, order + senders},
               {make_bunches(entries, senders, bunches),
                make_bunches(entries + senders, n - senders, bunches + senders)},
               g_array_new(FALSE, FALSE, sizeof(Pair))};
    find_pairs(&b);
    Pair *pairs = (Pair *)(void *)b.pairs->data;
    for (size_t first = 0, end; first < b.pairs->len && !pairs[first].only_ends; first = end) {
        for (end = first + 1;
             end < b.pairs->len && compare_goodness(&pairs[first], &pairs[end]) == 0;)
            end++;
        take_class(pairs + first, end - first, result->matches);
    }
    count_doubtful(&b, result);
    g_array_unref(b.pairs);
    g_free(order);
    g_free(bunches);
}

void pairing_find(PairingEntry *entries, size_t n, const PairingRules *rules, Pairing *result) {
    qsort(entries, n, sizeof *entries, compare_entries);
    for (size_t first = 0, end; first < n; first = end) {
        size_t senders = 0;
        for (end = first; end < n && entries[end].block == entries[first].block &&
                          entries[end].from == entries[first].from;
             end++)
            senders += !entries[end].receiver;
        if (senders > 0 && senders < end - first)
            pair_block(entries + first, senders, end - first, rules, result);
    }
}
