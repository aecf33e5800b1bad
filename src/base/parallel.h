// SPDX-License-Identifier: GPL-3.0-or-later
// Jobs shared out over threads.
#ifndef CROSSWARD_BASE_PARALLEL_H
#define CROSSWARD_BASE_PARALLEL_H

// Calls work(i, user) once for each i in [0, n), on that many threads at most (the caller's own
// among them); each takes the next job that is left. Returns when all are done. Jobs must not touch
// what another one writes.
void parallel_each(unsigned n, int threads, void (*work)(unsigned i, void *user), void *user);

#endif
