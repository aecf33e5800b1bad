// SPDX-License-Identifier: GPL-3.0-or-later
// The handler writes the signal's number into a pipe, from which the thread reads; 0 ends it.
#include "base/interrupt.h"

#include <errno.h>
#include <fcntl.h>
#include <glib-unix.h>
#include <signal.h>
#include <unistd.h>

static const int numbers[] = {SIGINT, SIGTERM, SIGHUP};
enum { SIGNALS = G_N_ELEMENTS(numbers) };

struct Interrupt {
    void (*clean)(void *user);
    void *user;
    int pipe[2];
    GThread *thread;
    struct sigaction before[SIGNALS];
    sig_atomic_t told_before;
};

// Where the handler writes to: the only way in which it can be told. -1: no watch.
static volatile sig_atomic_t told = -1;

static void told_to_stop(int number) {
    const int before = errno;
    const unsigned char byte = (unsigned char)number;
    if (write(told, &byte, 1) < 0)
        _exit(128 + number); // nobody can tidy up
    errno = before;
}

static gpointer wait_for(gpointer data) {
    const Interrupt *w = data;
    unsigned char number = 0;
    while (read(w->pipe[0], &number, 1) < 0 && errno == EINTR)
        ;
    if (number == 0)
        return NULL;
    w->clean(w->user);
    told = w->told_before; // the watch before this one, if any, has its turn
    for (int i = 0; i < SIGNALS; i++)
        if (numbers[i] == number)
            sigaction(number, &w->before[i], NULL);
    raise(number);
    return NULL;
}

Interrupt *interrupt_watch(void (*clean)(void *user), void *user) {
    Interrupt *w = g_new0(Interrupt, 1);
    w->clean = clean;
    w->user = user;
    if (!g_unix_open_pipe(w->pipe, FD_CLOEXEC, NULL)) {
        g_free(w);
        return NULL;
    }
    w->told_before = told;
    w->thread = g_thread_new("interrupt", wait_for, w);
    struct sigaction action = {.sa_handler = told_to_stop, .sa_flags = SA_RESTART};
    sigemptyset(&action.sa_mask);
    for (int i = 0; i < SIGNALS; i++)
        if (sigaction(numbers[i], NULL, &w->before[i]) == 0 && w->before[i].sa_handler != SIG_IGN)
            sigaction(numbers[i], &action, NULL);
    told = w->pipe[1];
    return w;
}

void interrupt_end(Interrupt *w) {
    if (!w)
        return;
    if (w->told_before >= 0)
        told = w->told_before;
    for (int i = 0; i < SIGNALS; i++)
        sigaction(numbers[i], &w->before[i], NULL);
    told = w->told_before;
    const unsigned char end = 0;
    while (write(w->pipe[1], &end, 1) < 0 && errno == EINTR)
        ;
    close(w->pipe[1]); // ends it too, had the byte not come
    g_thread_join(w->thread);
    close(w->pipe[0]);
    g_free(w);
}
