// SPDX-License-Identifier: GPL-3.0-or-later
// Tidying up when the program is told to stop (SIGINT, SIGTERM, SIGHUP). The handler only says
// which signal came; a thread does the work, so that what it calls need not be safe in a handler.
#ifndef CROSSWARD_PACK_INTERRUPT_H
#define CROSSWARD_PACK_INTERRUPT_H

typedef struct Interrupt Interrupt;

// From now on one of these signals, unless it is ignored, calls clean(user) in a thread of its own
// and then ends the program as it would have. NULL if that can't be had: then the signals do what
// they did before. One watch at a time.
Interrupt *interrupt_watch(void (*clean)(void *user), void *user);

// Ends the watch; the signals do what they did before. NULL is no watch.
void interrupt_end(Interrupt *watch);

#endif
