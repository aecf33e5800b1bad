// SPDX-License-Identifier: GPL-3.0-or-later
// The pass: block by block each record is added to every indicator's tally. Threads share out the
// indicators, so that each sum is added up in the order of the records.
#include "measure/counted.h"

#include "base/parallel.h"

typedef struct {
    Counted *c;
    unsigned parts;
} Pass;

// Every parts-th indicator.
static void count_part(unsigned part, void *user) {
    const Pass *pass = user;
    const Counted *c = pass->c;
    Block *b = block_new(c->data);
    while (block_next(b))
        for (guint k = part; k < c->catalogue->len; k += pass->parts)
            tally_add(c->tally[k], b);
    block_free(b);
    for (guint k = part; k < c->catalogue->len; k += pass->parts)
        tally_finish(c->tally[k]);
}

Counted *counted_new(const Transfers *t, const Network *network, const GPtrArray *catalogue,
                     const CountSpan *span, int threads) {
    Counted *c = g_new(Counted, 1);
    *c = (Counted){catalogue, count_data_new(t, network, catalogue, span),
                   g_new(Tally *, catalogue->len + 1)};
    for (guint k = 0; k < catalogue->len; k++)
        c->tally[k] = tally_new(c->data, catalogue->pdata[k]);
    Pass pass = {c, (unsigned)CLAMP(threads, 1, (int)MAX(catalogue->len, 1))};
    parallel_each(pass.parts, threads, count_part, &pass);
    return c;
}

void counted_free(Counted *c) {
    if (!c)
        return;
    for (guint k = 0; k < c->catalogue->len; k++)
        tally_free(c->tally[k]);
    g_free(c->tally);
    count_data_free(c->data);
    g_free(c);
}
