// SPDX-License-Identifier: GPL-3.0-or-later
// Names are placed by trying: low and centred ones first, back a step where the next has no place.
#include "pack/parts.h"

#include <math.h>

enum { SIZE = 12, LINES = 5, LINE = 15, APART = 8, CLEAR = 3 }; // px, lines of text
enum { MOST_TRIES = 20000 };

typedef struct {
    PartsName *parts;
    double wide[PARTS_MOST];
    guint n, tries;
    int width, lines; // of the picture, of text allowed
} Search;

// Whether the name of part k covers, or its line crosses, that of an earlier part j.
static bool collides(const Search *s, guint k, guint j) {
    const PartsName *a = &s->parts[j], *b = &s->parts[k];
    return b->line == a->line  ? b->x < a->x + s->wide[j] + APART
           : b->line < a->line ? b->x < a->middle + CLEAR
                               : b->middle < a->x + s->wide[j] + CLEAR;
}

static bool has_place(const Search *s, guint k) {
    const double x = s->parts[k].x;
    bool free = x >= CHART_EDGE && x + s->wide[k] <= s->width - CHART_EDGE;
    for (guint j = 0; j < k; j++)
        free = free && !collides(s, k, j);
    return free;
}

// Places part k and those after it.
static bool place(Search *s, guint k) {
    if (k == s->n)
        return true;
    PartsName *part = &s->parts[k];
    const double middle = part->middle, wide = s->wide[k],
                 x[] = {middle - wide / 2, middle - wide + CLEAR, middle - CLEAR};
    for (int line = 0; line < s->lines; line++)
        for (guint i = 0; i < G_N_ELEMENTS(x) && s->tries++ < MOST_TRIES; i++) {
            part->x = x[i];
            part->line = line;
            if (has_place(s, k) && place(s, k + 1))
                return true;
        }
    return false;
}

int parts_place(guint n, PartsName *parts, int width) {
    Search s = {.parts = parts, .n = MIN(n, PARTS_MOST), .width = width};
    for (guint k = 0; k < s.n; k++)
        s.wide[k] = chart_text_width(parts[k].name, SIZE);
    bool placed = false;
    while (!placed && s.lines < LINES) {
        s.lines++;
        s.tries = 0;
        placed = place(&s, 0);
    }
    for (guint k = 0; k < s.n && !placed; k++) { // a stair: crosses nothing, though it may go high
        parts[k].line = (int)k;
        parts[k].x = fmax(CHART_EDGE, parts[k].middle - s.wide[k] + CLEAR);
        s.lines = (int)s.n;
    }
    return 10 + LINE * s.lines;
}

void parts_draw(Chart *c, guint n, const PartsName *parts, double y) {
    for (guint k = 0; k < MIN(n, PARTS_MOST); k++) {
        const double text_y = c->top - 10 - LINE * parts[k].line;
        const ChartPlace at = {.x = parts[k].x,
                               .y = text_y,
                               .x_px = true,
                               .y_px = true,
                               .align = "left",
                               .colour = "ink",
                               .size = SIZE};
        chart_label(c, &at, parts[k].name);
        chart_leader(c, parts[k].middle, text_y + 6, parts[k].middle, y);
    }
}
