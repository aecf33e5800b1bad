// SPDX-License-Identifier: GPL-3.0-or-later
// What is said to a person may stand on a terminal, which obeys characters that nobody sees.
#ifndef CROSSWARD_COMMAND_TERMINAL_H
#define CROSSWARD_COMMAND_TERMINAL_H

// From here on all that g_printerr says has a question mark for each control character but the line
// break and for each one that turns text (visible_turns): names of files and cells of logs come
// from others. Written in the locale's encoding.
void terminal_begin(void);

#endif
