// SPDX-License-Identifier: GPL-3.0-or-later
// A queue of numbered jobs.
#include "base/parallel.h"

#include <glib.h>

typedef struct {
    unsigned n;
    gint next;
    void (*work)(unsigned i, void *user);
    void *user;
} Queue;

static gpointer take(gpointer data) {
    Queue *q = data;
    for (unsigned i; (i = (unsigned)g_atomic_int_add(&q->next, 1)) < q->n;)
        q->work(i, q->user);
    return NULL;
}

void parallel_each(unsigned n, int threads, void (*work)(unsigned i, void *user), void *user) {
    Queue q = {n, 0, work, user};
    GPtrArray *helpers = g_ptr_array_new();
    for (int k = 1; k < threads && (unsigned)k < n; k++)
        g_ptr_array_add(helpers, g_thread_new("parallel", take, &q));
    take(&q);
    for (guint k = 0; k < helpers->len; k++)
        g_thread_join(helpers->pdata[k]);
    g_ptr_array_unref(helpers);
}
