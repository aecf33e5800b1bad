// SPDX-License-Identifier: GPL-3.0-or-later
// Bottom-up merging: it walks along memory, where a heap would jump about in it.
#include "stats/order.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    double value;
    size_t number;
} Item;

// Whether b has to come before a.
static bool before(const Item *b, const Item *a) {
    return b->value < a->value || (isnan(a->value) && !isnan(b->value));
}

// Merges from[low..middle) and from[middle..high) into to; of equal ones the left comes first.
static void merge(const Item *from, Item *to, size_t low, size_t middle, size_t high) {
    for (size_t i = low, j = middle, k = low; k < high; k++)
        to[k] = i < middle && (j >= high || !before(&from[j], &from[i])) ? from[i++] : from[j++];
}

// Sorts the n items in `items`, with room for n more behind them; returns where they are then.
static Item *merge_sort(Item *items, size_t n) {
    Item *from = items, *to = items + n;
    for (size_t width = 1; width < n; width *= 2) {
        for (size_t low = 0; low < n; low += 2 * width) {
            size_t middle = low + width < n ? low + width : n;
            merge(from, to, low, middle, middle + width < n ? middle + width : n);
        }
        Item *swap = from;
        from = to;
        to = swap;
    }
    return from;
}

// The values with their numbers, sorted; *items to be freed. NULL if memory runs out.
static const Item *sorted_items(const double *values, size_t n, Item **items) {
    *items = malloc((2 * n + 1) * sizeof **items);
    if (*items == NULL)
        return NULL;
    for (size_t i = 0; i < n; i++)
        (*items)[i] = (Item){values[i], i};
    return merge_sort(*items, n);
}

size_t *order_ascending(const double *values, size_t n) {
    Item *items;
    const Item *sorted = sorted_items(values, n, &items);
    size_t *order = malloc((n + 1) * sizeof *order);
    for (size_t i = 0; i < n && sorted != NULL && order != NULL; i++)
        order[i] = sorted[i].number;
    free(items);
    if (sorted == NULL) {
        free(order);
        return NULL;
    }
    return order;
}

bool order_sort(double *values, size_t n) {
    Item *items;
    const Item *sorted = sorted_items(values, n, &items);
    for (size_t i = 0; i < n && sorted != NULL; i++)
        values[i] = sorted[i].value;
    free(items);
    return sorted != NULL;
}

// ---- whole numbers ----

enum { BITS = 11, BUCKETS = 1 << BITS };

// One pass by the digit at `shift`, keeping the order of equal ones.
static void deal(const uint32_t *from, uint32_t *to, size_t n, int shift) {
    size_t start[BUCKETS + 1] = {0};
    for (size_t i = 0; i < n; i++)
        start[(from[i] >> shift) % BUCKETS + 1]++;
    for (int b = 0; b < BUCKETS; b++)
        start[b + 1] += start[b];
    for (size_t i = 0; i < n; i++)
        to[start[(from[i] >> shift) % BUCKETS]++] = from[i];
}

bool order_sort_whole(uint32_t *values, size_t n) {
    uint32_t most = 0, *other = malloc((n + 1) * sizeof *other), *from = values, *to = other;
    if (other == NULL)
        return false;
    for (size_t i = 0; i < n; i++)
        most = values[i] > most ? values[i] : most;
    for (int shift = 0; shift < 32 && most >> shift > 0; shift += BITS) {
        deal(from, to, n, shift);
        uint32_t *swap = from;
        from = to;
        to = swap;
    }
    if (from != values)
        memcpy(values, from, n * sizeof *values);
    free(other);
    return true;
}

static int by_value(const void *a, const void *b) {
    const int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

// As whole numbers from the least on, if that goes into 32 bits and there is memory for them.
static bool sort_from_least(int64_t *values, size_t n) {
    int64_t least = INT64_MAX, most = INT64_MIN;
    for (size_t i = 0; i < n; i++) {
        least = values[i] < least ? values[i] : least;
        most = values[i] > most ? values[i] : most;
    }
    uint32_t *above = NULL;
    if ((uint64_t)most - (uint64_t)least <= UINT32_MAX)
        above = malloc((n + 1) * sizeof *above);
    for (size_t i = 0; above != NULL && i < n; i++)
        above[i] = (uint32_t)(values[i] - least);
    const bool sorted = above != NULL && order_sort_whole(above, n);
    for (size_t i = 0; sorted && i < n; i++)
        values[i] = least + above[i];
    free(above);
    return sorted;
}

void order_settle(int64_t *values, size_t n) {
    size_t moves = 0;
    for (size_t i = 1; i < n; i++) {
        const int64_t own = values[i];
        size_t k = i;
        for (; k > 0 && values[k - 1] > own; k--)
            values[k] = values[k - 1];
        values[k] = own;
        moves += i - k;
        if (moves > 16 * n) {
            if (!sort_from_least(values, n))
                qsort(values, n, sizeof *values, by_value);
            return;
        }
    }
}
