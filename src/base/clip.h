// SPDX-License-Identifier: GPL-3.0-or-later
// A long text, cut for a message.
#ifndef CROSSWARD_BASE_CLIP_H
#define CROSSWARD_BASE_CLIP_H

// The text (UTF-8), or its first `most` characters and an ellipsis; to be freed.
char *clip_text(const char *text, unsigned most);

#endif
