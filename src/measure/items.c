// SPDX-License-Identifier: GPL-3.0-or-later
// Each term of a share's condition, counted as the share itself is.
#include "measure/items.h"

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

static void add(ItemsCell *cell, const CountRecord *r) {
    cell->unknown += r->state == COUNT_UNKNOWN;
    cell->total += r->state == COUNT_IN;
    cell->events += r->state == COUNT_IN && r->events > 0;
}

static void count(Item *item, const CountData *data, const Indicator *one, double confidence) {
    CountRecord record[COUNT_BLOCK];
    const uint16_t *sender = transfers_units(data->t, FIELD_sending_unit);
    for (size_t first = 0; first < data->t->n; first += COUNT_BLOCK) {
        const size_t n = MIN((size_t)COUNT_BLOCK, data->t->n - first);
        count_records(data, one, first, n, record);
        for (size_t i = 0; i < n; i++) {
            if (data->slot[PERIOD_ALL][data->month[first + i]] < 0)
                continue;
            add(&item->cells[0], &record[i]);
            if (data->place[sender[first + i]] > 0)
                add(&item->cells[data->place[sender[first + i]]], &record[i]);
        }
    }
    for (guint u = 0; u < data->units->len; u++)
        item->cells[u].share = proportion_wilson((double)item->cells[u].events,
                                                 (double)item->cells[u].total, confidence);
}

// One term of a share, as a share of its own.
static Item *item_of(const CountData *data, const Indicator *whole, guint indicator,
                     const char *term, double confidence) {
    Indicator one = *whole;
    one.events = condition_parse(term, NULL); // read once already with the catalogue
    Item *item = g_new0(Item, 1);
    *item = (Item){.indicator = (uint16_t)indicator,
                   .field = condition_term(one.events, 0).field,
                   .condition = g_strdup(term),
                   .cells = g_new0(ItemsCell, data->units->len + 1)};
    count(item, data, &one, confidence);
    condition_free(one.events);
    return item;
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
            cell->together = proportion_wilson((double)cell->events, (double)cell->total, each);
        }
}

GPtrArray *items_all(const CountData *data, const GPtrArray *catalogue, double confidence) {
    GPtrArray *all = g_ptr_array_new_with_free_func(free_item);
    for (guint k = 0; k < catalogue->len; k++) {
        const Indicator *whole = catalogue->pdata[k];
        bool wanted = false;
        for (guint s = 0; s < G_N_ELEMENTS(shares); s++)
            wanted = wanted || strcmp(whole->name, shares[s]) == 0;
        if (!wanted || whole->measure != MEASURE_SHARE || condition_terms(whole->events) == 0)
            continue;
        char **terms = g_strsplit(whole->events_text, "&", -1);
        for (char **term = terms; *term; term++)
            g_ptr_array_add(all, item_of(data, whole, k, g_strstrip(*term), confidence));
        g_strfreev(terms);
    }
    hold_together(all, data->units->len, confidence);
    return all;
}
