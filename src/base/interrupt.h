// SPDX-License-Identifier: GPL-3.0-or-later
// Tidying up when the program is told to stop (SIGINT, SIGTERM, SIGHUP). The handler only says
// which signal came; a thread does the work, so that what it calls need not be safe in a handler.
#ifndef CROSSWARD_BASE_INTERRUPT_H
#define CROSSWARD_BASE_INTERRUPT_H

typedef struct Interrupt Interrupt;

// From now on one of these signals, unless it is ignored, calls clean(user) in a thread of its own
// and then ends the program as it would have. NULL if that can't be had: then the signals do what
// they did before. Of several watches the last is told first, and each in its turn; they end in
// that order too.
Interrupt *interrupt_watch(void (*clean)(void *user), void *user);

// Ends the watch; the signals do what they did before. NULL is no watch.
void interrupt_end(Interrupt *watch);

#endif
