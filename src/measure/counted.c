// SPDX-License-Identifier: GPL-3.0-or-later
// The pass: block by block each record is added to every indicator's tally. Threads share out the
// indicators, so that each sum is added up in the order of the records.
#include "measure/counted.h"

#include "base/parallel.h"

typedef struct {
    const CountData *data;
    Tally **tally;
    unsigned n, parts;
} Pass;

// Every parts-th indicator.
static void count_part(unsigned part, void *user) {
    const Pass *pass = user;
    Block *b = block_new(pass->data);
    while (block_next(b))
        for (unsigned k = part; k < pass->n; k += pass->parts)
            tally_add(pass->tally[k], b);
    block_free(b);
    for (unsigned k = part; k < pass->n; k += pass->parts)
        tally_finish(pass->tally[k]);
}

Tally **counted_tallies(const CountData *data, const GPtrArray *indicators, int threads) {
    const guint n = indicators->len;
    Tally **tally = g_new0(Tally *, n + 1);
    for (guint k = 0; k < n; k++)
        tally[k] = tally_new(data, indicators->pdata[k]);
    Pass pass = {data, tally, n, (unsigned)CLAMP(threads, 1, (int)MAX(n, 1))};
    parallel_each(pass.parts, threads, count_part, &pass);
    return tally;
}

Counted *counted_new(const Transfers *t, const Network *network, const GPtrArray *catalogue,
                     const CountSpan *span, int threads) {
    Counted *c = g_new(Counted, 1);
    CountData *data = count_data_new(t, network, catalogue, span);
    *c = (Counted){catalogue, data, counted_tallies(data, catalogue, threads)};
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
