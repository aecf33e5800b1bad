// SPDX-License-Identifier: GPL-3.0-or-later
// Read is the sum of five others, so one hidden count alone would be found out.
#include "disclosure/accounted.h"

static bool few(const Hiding *h, uint64_t n) {
    return n >= 1 && n < h->least;
}

// Whether a row of the network's whole span shows a number as a count.
static bool is_told(const Estimates *e, uint64_t n) {
    const double count = (double)n;
    for (guint k = 0; k < e->rows->len; k++) {
        const Estimate *r = &g_array_index(e->rows, Estimate, k);
        if (r->unit == 0 && r->period == 0 && !r->suppressed &&
            (r->events == count || r->total == count || r->total + (double)r->unknown == count))
            return true;
    }
    return false;
}

// Hidden parts, and their sum.
typedef struct {
    unsigned parts;
    uint64_t sum;
} Together;

static Together together(const Accounted *a) {
    Together t = {0, 0};
    for (int k = ACCOUNTED_USED; k < ACCOUNTED_COUNTS; k++)
        if (a->hidden[k]) {
            t.parts++;
            t.sum += a->n[k];
        }
    return t;
}

// The smallest shown part but used that is not 0; read if there is none.
static AccountedCount next_smallest(const Accounted *a) {
    AccountedCount next = ACCOUNTED_READ;
    for (AccountedCount k = ACCOUNTED_PUT_ASIDE; k < ACCOUNTED_COUNTS; k++)
        if (!a->hidden[k] && a->n[k] > 0 && (next == ACCOUNTED_READ || a->n[k] < a->n[next]))
            next = k;
    return next;
}

static void hide(Accounted *a, const Hiding *h) {
    for (int k = ACCOUNTED_READ; k < ACCOUNTED_COUNTS; k++)
        a->hidden[k] = few(h, a->n[k]);
    for (Together t = together(a); !a->hidden[ACCOUNTED_READ] && (t.parts == 1 || few(h, t.sum));
         t = together(a))
        a->hidden[next_smallest(a)] = true;
}

Accounted accounted_of(const Account *account, const Estimates *e, const Hiding *h) {
    Accounted a = {.n = {account->read, account->used, account->put_aside, account->repeated,
                         account->merged, account->left_out}};
    if (!h)
        return a;
    hide(&a, h);
    if (account->used > 0 && !is_told(e, account->used))
        a.hidden[ACCOUNTED_USED] = a.hidden[ACCOUNTED_READ] = true;
    return a;
}

bool accounted_hides(const Accounted *a) {
    for (int k = 0; k < ACCOUNTED_COUNTS; k++)
        if (a->hidden[k])
            return true;
    return false;
}
