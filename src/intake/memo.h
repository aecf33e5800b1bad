// SPDX-License-Identifier: GPL-3.0-or-later
// What a cell's text meant the last time, for a column with few different texts: a look costs next
// to nothing, which is most of what reading a log comes to.
#ifndef CROSSWARD_INTAKE_MEMO_H
#define CROSSWARD_INTAKE_MEMO_H

#include "intake/guard.h"

#include <string.h>

enum { MEMO_PLACES = 32, MEMO_LONGEST = 24 }; // texts; bytes of one

// A text of 1 to MEMO_LONGEST bytes as numbers: equal ones are equal texts, for of any length the
// parts together hold every byte.
typedef struct {
    uint64_t first, middle, last;
    size_t length;
} MemoText;

typedef struct {
    MemoText text; // length 0 = nothing is here
    int64_t value;
    bool looked; // the guard looks at the cell: it sees every one, remembered or not
    GuardSight sight;
} MemoPlace;

// A table all zeros is empty.
typedef struct {
    MemoPlace place[MEMO_PLACES];
} Memo;

static inline uint64_t memo_eight(const char *bytes) {
    uint64_t eight;
    memcpy(&eight, bytes, sizeof eight);
    return eight;
}

static inline uint32_t memo_four(const char *bytes) {
    uint32_t four;
    memcpy(&four, bytes, sizeof four);
    return four;
}

static inline MemoText memo_text(const char *text, size_t n) {
    if (n >= 8)
        return (MemoText){memo_eight(text), n > 16 ? memo_eight(text + 8) : 0,
                          memo_eight(text + n - 8), n};
    if (n >= 4)
        return (MemoText){memo_four(text), 0, memo_four(text + n - 4), n};
    return (MemoText){(unsigned char)text[0], (unsigned char)text[n / 2],
                      (unsigned char)text[n - 1], n};
}

static inline bool memo_is(const MemoPlace *place, const MemoText *text) {
    const MemoText *here = &place->text;
    return ((here->first ^ text->first) | (here->middle ^ text->middle) |
            (here->last ^ text->last) | (here->length ^ text->length)) == 0;
}

// Where the text is remembered, or is to be: one of two places, a free one if there is one.
static inline MemoPlace *memo_place(Memo *memo, const MemoText *text) {
    const uint64_t sum = text->first + 3 * text->middle + (text->last << 29 | text->last >> 35);
    const unsigned h = (unsigned)(sum * 0x9e3779b97f4a7c15u >> 59); // of MEMO_PLACES
    MemoPlace *one = &memo->place[h], *other = &memo->place[h ^ 1];
    if (memo_is(one, text) || one->text.length == 0)
        return one;
    return memo_is(other, text) || other->text.length == 0 ? other : one;
}

#endif
