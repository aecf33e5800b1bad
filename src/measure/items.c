// SPDX-License-Identifier: GPL-3.0-or-later
// Each term of a share's condition, counted as the share itself is.
#include "measure/items.h"

#include "measure/counted.h"
#include "stats/proportion.h"
#include "stats/ranking.h"

#include <string.h>

static const char *const shares[] = {"equipment_ready_share", "papers_complete_share"};

static void free_item(gpointer data) {
    Item *item = data;
    g_free(item->condition);
    g_free(item->cells);
    g_free(item);
}

// One term of a share, as a share of its own; its text is the item's.
static Indicator *share_of(const Indicator *whole, char *term) {
    Indicator *one = g_memdup2(whole, sizeof *one);
    one->events = condition_parse(term, NULL); // read once already with the catalogue
    one->events_text = term;
    one->compare = term + strlen(term); // empty: nobody is judged by it
    one->n_by = 0;
    return one;
}

static void free_share(gpointer data) {
    Indicator *one = data;
    condition_free(one->events);
    g_free(one);
}

static void add_items(GPtrArray *all, GPtrArray *ones, const CountData *data,
                      const Indicator *whole, guint indicator) {
    char **terms = g_strsplit(whole->events_text, "&", -1);
    for (char **term = terms; *term; term++) {
        Item *item = g_new0(Item, 1);
        item->indicator = (uint16_t)indicator;
        item->condition = g_strdup(g_strstrip(*term));
        item->cells = g_new0(ItemsCell, data->units->len + 1);
        Indicator *one = share_of(whole, item->condition);
        item->field = condition_term(one->events, 0).field;
        g_ptr_array_add(all, item);
        g_ptr_array_add(ones, one);
    }
    g_strfreev(terms);
}

static void fill_cells(Item *item, const CountData *data, const Tally *tally, double confidence) {
    const Period *span = &g_array_index(data->periods, Period, 0);
    for (guint u = 0; u < data->units->len; u++) {
        const TallyCell of = {u, span->first - data->first, span->end - data->first, -1, 0, false};
        const TallySums sums = tally_cell(tally, of, NULL);
        ItemsCell *cell = &item->cells[u];
        cell->events = (uint64_t)sums.sum;
        cell->total = sums.total;
        cell->unknown = sums.unknown;
        cell->share = proportion_wilson((double)cell->events, (double)cell->total, confidence);
    }
}

static void hold_together(GPtrArray *all, guint places, double confidence) {
    size_t n = 0;
    for (guint k = 0; k < all->len; k++)
        for (guint u = 1; u < places; u++)
            n += ((const Item *)all->pdata[k])->cells[u].total > 0;
    const double each = ranking_confidence(n, confidence);
    for (guint k = 0; k < all->len; k++)
        for (guint u = 0; u < places; u++) {
            ItemsCell *cell = &((Item *)all->pdata[k])->cells[u];
            cell->together =
                proportion_clopper_pearson((double)cell->events, (double)cell->total, each);
        }
}

GPtrArray *items_all(const CountData *data, const GPtrArray *catalogue, double confidence) {
    GPtrArray *all = g_ptr_array_new_with_free_func(free_item);
    GPtrArray *ones = g_ptr_array_new_with_free_func(free_share);
    for (guint k = 0; k < catalogue->len; k++) {
        const Indicator *whole = catalogue->pdata[k];
        bool wanted = false;
        for (guint s = 0; s < G_N_ELEMENTS(shares); s++)
            wanted = wanted || strcmp(whole->name, shares[s]) == 0;
        if (wanted && whole->measure == MEASURE_SHARE && condition_terms(whole->events) > 0)
            add_items(all, ones, data, whole, k);
    }
    Tally **tally = counted_tallies(data, ones, 1);
    for (guint i = 0; i < all->len; i++) {
        fill_cells(all->pdata[i], data, tally[i], confidence);
        tally_free(tally[i]);
    }
    g_free(tally);
    g_ptr_array_unref(ones);
    hold_together(all, data->units->len, confidence);
    return all;
}
