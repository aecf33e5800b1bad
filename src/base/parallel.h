// SPDX-License-Identifier: GPL-3.0-or-later
// Jobs shared out over threads.
#ifndef CROSSWARD_BASE_PARALLEL_H
#define CROSSWARD_BASE_PARALLEL_H

// Calls work(i, user) once for each i in [0, n), where that many threads at most are at work in the
// whole program (the caller's own among them); each takes the next job that is left. Returns when
// all are done. Jobs may call it themselves: who waits for the last jobs of one call does those of
// another. Jobs must not touch what another one writes, nor hold a lock while they call it.
void parallel_each(unsigned n, int threads, void (*work)(unsigned i, void *user), void *user);

// A thread that was not made here begins to work, so that one fewer helps; it rests (it ends, or
// waits for another thread), so that one more may help. The program's first thread is at work.
void parallel_begin(void);
void parallel_rest(void);

#endif
