// SPDX-License-Identifier: GPL-3.0-or-later
// One crew for all queues of numbered jobs, however they are nested: who waits for the end of one
// queue does the jobs of another meanwhile.
#include "base/parallel.h"

#include <glib.h>

typedef struct {
    unsigned n, next, done;
    int threads; // at work at most, while its jobs are begun
    void (*work)(unsigned i, void *user);
    void *user;
} Queue;

static GMutex lock;     // guards all that follows, and queues
static GCond ended;     // a queue's last job
static GQueue open;     // of Queue that have jobs to begin, oldest first
static int at_work = 1; // threads; the program begins with one

// A queue that lets one more of the threads that are at work go on; NULL: there is none.
static Queue *to_do(void) {
    for (GList *l = open.head; l; l = l->next) {
        Queue *q = l->data;
        if (at_work <= q->threads)
            return q;
    }
    return NULL;
}

static void do_next(Queue *q) {
    const unsigned i = q->next++;
    if (q->next == q->n)
        g_queue_remove(&open, q);
    g_mutex_unlock(&lock);
    q->work(i, q->user);
    g_mutex_lock(&lock);
    if (++q->done == q->n)
        g_cond_broadcast(&ended);
}

static gpointer help(gpointer nothing) {
    g_mutex_lock(&lock);
    for (Queue *q; (q = to_do());)
        do_next(q);
    at_work--;
    g_mutex_unlock(&lock);
    return nothing;
}

// As many as there is work for, beside those that are at work.
static void call_helpers(void) {
    for (GList *l = open.head; l; l = l->next) {
        const Queue *q = l->data;
        for (unsigned k = q->next; k < q->n && at_work < q->threads; k++) {
            at_work++;
            g_thread_unref(g_thread_new("parallel", help, NULL));
        }
    }
}

void parallel_each(unsigned n, int threads, void (*work)(unsigned i, void *user), void *user) {
    if (n == 0)
        return;
    Queue q = {n, 0, 0, threads, work, user};
    g_mutex_lock(&lock);
    if (n > 1) {
        g_queue_push_tail(&open, &q);
        q.next = 1; // the caller's own, which needs no helper
        call_helpers();
        q.next = 0;
    }
    while (q.next < q.n)
        do_next(&q);
    while (q.done < q.n) {
        Queue *other = to_do();
        if (other)
            do_next(other);
        else {
            at_work--;
            g_cond_wait(&ended, &lock);
            at_work++;
        }
    }
    g_mutex_unlock(&lock);
}

void parallel_begin(void) {
    g_mutex_lock(&lock);
    at_work++;
    g_mutex_unlock(&lock);
}

void parallel_rest(void) {
    g_mutex_lock(&lock);
    at_work--;
    call_helpers();
    g_mutex_unlock(&lock);
}
