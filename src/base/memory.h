// SPDX-License-Identifier: GPL-3.0-or-later
// Memory that was freed goes back to the system, so that what a run takes is what it holds.
#ifndef CROSSWARD_BASE_MEMORY_H
#define CROSSWARD_BASE_MEMORY_H

// From now on each block of 256 KiB or more comes from the system by itself and goes back when it
// is freed. Left to itself, glibc takes ever larger ones from the heap once such a one was freed,
// and what is freed in the midst of the heap stays there. Nothing where the C library is another.
void memory_keep_little(void);

// Gives what is free in the heap back to the system: for the end of a stage that freed much.
void memory_give_back(void);

#endif
