// SPDX-License-Identifier: GPL-3.0-or-later
// One queue that all threads take from, and beside it the order of the log.
#include "intake/tasks.h"

enum { A_THREAD = 3 }; // tasks under way for each thread beside the caller's

struct Tasks {
    GThread **helpers;
    unsigned n_helpers, most_helpers; // one begins with each of the first tasks
    GAsyncQueue *waiting;             // Tasks that no thread has begun; Tasks itself ends a helper
    GQueue under_way;                 // of Task, oldest first
    GQueue idle;                      // of Task
    GMutex lock;                      // guards what is done
    GCond one_done;
};

void tasks_feed(const Task *task, Piece *piece) {
    piece_feed(piece, task->text->str + task->from, task->length);
}

static void run(Tasks *t, Task *task) {
    tasks_feed(task, task->piece);
    g_mutex_lock(&t->lock);
    task->done = true;
    g_cond_signal(&t->one_done);
    g_mutex_unlock(&t->lock);
}

static gpointer help(gpointer tasks) {
    for (gpointer next; (next = g_async_queue_pop(((Tasks *)tasks)->waiting)) != tasks;)
        run(tasks, next);
    return NULL;
}

Tasks *tasks_new(unsigned threads) {
    Tasks *t = g_new0(Tasks, 1);
    g_mutex_init(&t->lock);
    g_cond_init(&t->one_done);
    t->waiting = g_async_queue_new();
    t->most_helpers = threads - 1;
    t->helpers = g_new0(GThread *, threads);
    return t;
}

static void free_task(gpointer data) {
    Task *task = data;
    piece_free(task->piece);
    g_string_free(task->text, TRUE);
    g_free(task);
}

void tasks_free(Tasks *t) {
    if (!t)
        return;
    for (unsigned i = 0; i < t->n_helpers; i++)
        g_async_queue_push(t->waiting, t);
    for (unsigned i = 0; i < t->n_helpers; i++)
        g_thread_join(t->helpers[i]);
    g_free(t->helpers);
    g_async_queue_unref(t->waiting);
    g_queue_clear_full(&t->under_way, free_task);
    g_queue_clear_full(&t->idle, free_task);
    g_mutex_clear(&t->lock);
    g_cond_clear(&t->one_done);
    g_free(t);
}

Task *tasks_idle(Tasks *t) {
    Task *task = g_queue_pop_head(&t->idle);
    if (!task) {
        task = g_new0(Task, 1);
        task->text = g_string_new(NULL);
    }
    return task;
}

bool tasks_begin(Tasks *t, Task *task) {
    task->done = false;
    g_queue_push_tail(&t->under_way, task);
    g_async_queue_push(t->waiting, task);
    if (t->n_helpers < MIN(t->most_helpers, t->under_way.length))
        t->helpers[t->n_helpers++] = g_thread_new("reading", help, t);
    return t->under_way.length > A_THREAD * t->most_helpers;
}

static bool is_done(Tasks *t, const Task *task) {
    g_mutex_lock(&t->lock);
    const bool done = task->done;
    g_mutex_unlock(&t->lock);
    return done;
}

Task *tasks_oldest(Tasks *t) {
    Task *task = g_queue_pop_head(&t->under_way);
    if (!task)
        return NULL;
    for (Task *other; !is_done(t, task) && (other = g_async_queue_try_pop(t->waiting));)
        run(t, other);
    g_mutex_lock(&t->lock);
    while (!task->done)
        g_cond_wait(&t->one_done, &t->lock);
    g_mutex_unlock(&t->lock);
    g_queue_push_tail(&t->idle, task);
    return task;
}
