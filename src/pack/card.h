// SPDX-License-Identifier: GPL-3.0-or-later
// Key figures: a large figure with its interval, the last two quarters and the change between them,
// a small chart.
#ifndef CROSSWARD_PACK_CARD_H
#define CROSSWARD_PACK_CARD_H

#include "pack/chart.h"
#include "pack/source.h"

typedef struct {
    const Indicator *indicator;
    char *title;
    const Estimate *all, *last,
        *before; // whole span; last whole quarter and the one before, or NULL
    const char *last_name, *before_name;
    const Series
        *series; // whose last step is that from the one quarter to the other; NULL if none is
    const Estimate *network; // on a unit's page: the network's figure; else NULL
    Chart *chart;            // NULL without charts
} Card;

// The key figures that the estimates have, five to eight: GPtrArray of Card *.
GPtrArray *card_all(const Source *s);

// Appends them as HTML; the same as a Markdown list.
void card_html(GString *out, const Source *s, const GPtrArray *cards);
void card_markdown(GString *out, const Source *s, const GPtrArray *cards);

#endif
