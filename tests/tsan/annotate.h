// SPDX-License-Identifier: GPL-3.0-or-later
// For `make tsan`: GLib is not built with ThreadSanitizer, so each call that makes one thread wait
// for another says so here. Included before every source file.
#ifndef CROSSWARD_TESTS_TSAN_ANNOTATE_H
#define CROSSWARD_TESTS_TSAN_ANNOTATE_H

#include <glib.h>
#include <sanitizer/tsan_interface.h>

static inline void tsan_lock(GMutex *m) {
    g_mutex_lock(m);
    __tsan_acquire(m);
}
static inline void tsan_unlock(GMutex *m) {
    __tsan_release(m);
    g_mutex_unlock(m);
}
static inline void tsan_wait(GCond *c, GMutex *m) {
    __tsan_release(m);
    g_cond_wait(c, m);
    __tsan_acquire(m);
}
static inline void tsan_push(GAsyncQueue *q, gpointer data) {
    __tsan_release(q);
    g_async_queue_push(q, data);
}
static inline gpointer tsan_popped(GAsyncQueue *q, gpointer data) {
    __tsan_acquire(q);
    return data;
}

#define g_mutex_lock(m) tsan_lock(m)
#define g_mutex_unlock(m) tsan_unlock(m)
#define g_cond_wait(c, m) tsan_wait(c, m)
#define g_async_queue_push(q, data) tsan_push(q, data)
#define g_async_queue_pop(q) tsan_popped(q, g_async_queue_pop(q))
#define g_async_queue_try_pop(q) tsan_popped(q, g_async_queue_try_pop(q))

#endif
