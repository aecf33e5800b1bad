// SPDX-License-Identifier: GPL-3.0-or-later
// Texts of a log that threads read at the same time, and that come back in the order of the log.
#ifndef CROSSWARD_INTAKE_TASKS_H
#define CROSSWARD_INTAKE_TASKS_H

#include "intake/piece.h"

typedef struct Tasks Tasks;

typedef struct {
    GString *text; // its own
    size_t from, length;
    Piece *piece; // into which that part of the text is read; NULL: there is none yet
    bool done;    // for tasks.c alone
} Task;

// For so many threads, at least 1, the caller's among them. tasks_free ends what is under way.
Tasks *tasks_new(unsigned threads);
void tasks_free(Tasks *tasks);

// One to be filled and given to tasks_begin: new, or done before, with the text and piece it had.
Task *tasks_idle(Tasks *tasks);

// Lets a thread read it. True when enough are under way, so that tasks_oldest should come next.
bool tasks_begin(Tasks *tasks, Task *task);

// Takes out the oldest of those under way, once it is done: until then the caller's thread reads,
// too. It stays as it is until the next call of tasks_idle. NULL: none is under way.
Task *tasks_oldest(Tasks *tasks);

// Reads a task's part of its text into a piece.
void tasks_feed(const Task *task, Piece *piece);

#endif
