// SPDX-License-Identifier: GPL-3.0-or-later
// The grid of rows by unit and month.
#include "cohort/received.h"

#include "cohort/repeats.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    GAP = 12,  // months without a row after which dates are taken for wrong
    PAUSE = 2, // the same for a row or two, far fewer than a month has
    LONE = 2   // rows at most
};

static int month_of(int32_t day) {
    int y, m, d;
    when_civil(day, &y, &m, &d);
    return y * 12 + m - 1;
}

// The local month of each row; logs are in order of time mostly, so that few days are looked up.
static int *months_of(const Transfers *t, const Network *network) {
    int *month = g_new(int, t->n + 1), of_day = 0;
    int32_t day = WHEN_UNKNOWN;
    for (size_t i = 0; i < t->n; i++) {
        const int32_t own = transfers_day(t, i, network);
        if (own != day)
            of_day = month_of(own);
        day = own;
        month[i] = of_day;
    }
    return month;
}

// The months in order, sorted by counting: they are many, and few different ones. n is not 0.
static int *sorted_months(const int *month, size_t n) {
    int low = month[0], high = month[0];
    for (size_t i = 1; i < n; i++) {
        low = MIN(low, month[i]);
        high = MAX(high, month[i]);
    }
    size_t *rows = g_new0(size_t, high - low + 1);
    for (size_t i = 0; i < n; i++)
        rows[month[i] - low]++;
    int *sorted = g_new0(int, n), *to = sorted;
    for (int m = low; m <= high; m++)
        for (size_t k = rows[m - low]; k > 0; k--)
            *to++ = m;
    g_free(rows);
    return sorted;
}

// Whether the k rows of one end, `apart` months from the n others, which take so many months, are
// lone ones: under a quarter of what those have a month.
static bool lone(size_t k, int apart, size_t n, int months) {
    return apart > PAUSE && k <= LONE && 4 * k * (size_t)months < n;
}

// Leaves lone rows at the ends of the sorted months [*from, *to) out.
static void trim(const int *sorted, size_t *from, size_t *to) {
    for (size_t k = 1; k <= LONE && *from + k < *to; k++) {
        const int *last = &sorted[*to - k], *first = &sorted[*from + k - 1];
        if (lone(k, last[0] - last[-1], *to - *from - k, last[-1] - sorted[*from] + 1)) {
            *to -= k;
            k = 0;
        } else if (lone(k, first[1] - first[0], *to - *from - k, sorted[*to - 1] - first[1] + 1)) {
            *from += k;
            k = 0;
        }
    }
}

// The months of the part that has the most rows, of parts that GAP months without any lie between;
// lone rows at its ends are no part of it.
static void find_span(const int *month, size_t n, Received *r) {
    if (n == 0)
        return;
    int *sorted = sorted_months(month, n);
    size_t most = 0, first = 0, end = 0;
    for (size_t from = 0, to; from < n; from = to) {
        for (to = from + 1; to < n && sorted[to] - sorted[to - 1] <= GAP;)
            to++;
        if (to - from > most) {
            most = to - from;
            first = from, end = to;
        }
    }
    trim(sorted, &first, &end);
    r->first = sorted[first];
    r->months = (guint)(sorted[end - 1] - sorted[first] + 1);
    g_free(sorted);
}

static int by_rows(const void *a, const void *b) {
    const uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    return (x > y) - (x < y);
}

static double usual(const uint32_t *rows, guint months) {
    uint32_t *some = g_new(uint32_t, months);
    guint n = 0;
    for (guint m = 0; m < months; m++)
        if (rows[m] > 0)
            some[n++] = rows[m];
    qsort(some, n, sizeof *some, by_rows);
    const guint upper = n / 2, lower = n > 0 ? (n - 1) / 2 : 0;
    const double median = n == 0 ? 0 : ((double)some[lower] + some[upper]) / 2;
    g_free(some);
    return median;
}

static int by_code(gconstpointer a, gconstpointer b, gpointer codes) {
    const ReceivedUnit *x = a, *y = b;
    const GPtrArray *list = codes;
    return strcmp(list->pdata[x->unit], list->pdata[y->unit]);
}

// A row of the grid for each keeper; place[unit] is its row, UINT32_MAX for others.
static uint32_t *make_rows(const Transfers *t, Received *r) {
    uint32_t *place = g_new(uint32_t, t->units->len);
    uint8_t *keeps = g_malloc0(t->units->len);
    for (size_t i = 0; i < t->n; i++)
        keeps[repeats_keeper(t, i)] = 1;
    for (guint u = 1; u < t->units->len; u++)
        if (keeps[u]) {
            const ReceivedUnit unit = {(uint16_t)u, NULL, 0};
            g_array_append_val(r->units, unit);
        }
    g_array_sort_with_data(r->units, by_code, t->units);
    r->cells = g_new0(uint32_t, (size_t)r->units->len * r->months + 1);
    for (guint k = 0; k < r->units->len; k++) {
        ReceivedUnit *unit = &g_array_index(r->units, ReceivedUnit, k);
        unit->rows = r->cells + (size_t)k * r->months;
        place[unit->unit] = k;
    }
    g_free(keeps);
    return place;
}

Received *received_count(const Transfers *t, const Network *network) {
    Received *r = g_new0(Received, 1);
    r->units = g_array_new(FALSE, FALSE, sizeof(ReceivedUnit));
    r->far = g_array_new(FALSE, FALSE, sizeof(ReceivedFar));
    int *month = months_of(t, network);
    find_span(month, t->n, r);
    uint32_t *place = make_rows(t, r);
    for (size_t i = 0; i < t->n; i++) {
        const int at = month[i] - r->first;
        const ReceivedFar far = {t->file[i], t->line[i]};
        if (at >= 0 && at < (int)r->months)
            r->cells[(size_t)place[repeats_keeper(t, i)] * r->months + (size_t)at]++;
        else
            g_array_append_val(r->far, far);
    }
    for (guint k = 0; k < r->units->len; k++) {
        ReceivedUnit *unit = &g_array_index(r->units, ReceivedUnit, k);
        unit->usual = usual(unit->rows, r->months);
    }
    g_free(place);
    g_free(month);
    return r;
}

void received_free(Received *r) {
    if (!r)
        return;
    g_array_unref(r->units);
    g_array_unref(r->far);
    g_free(r->cells);
    g_free(r);
}

ReceivedState received_state(const ReceivedUnit *unit, guint month) {
    const uint32_t rows = unit->rows[month];
    return rows == 0 ? RECEIVED_NONE : rows < unit->usual / 2 ? RECEIVED_FEW : RECEIVED_USUAL;
}

double received_longest(double starts, double rate) {
    return log(100 * starts) / rate;
}

static void note(const char *code, const char *message, Findings *findings) {
    const Finding f = {FINDING_ALL_LOGS, 0, 0, FIELD_COUNT, SEVERITY_NOTE, code, NULL, message};
    finding_add(findings, &f, NULL, 0);
}

// who: the unit's code, or words for all; rows: theirs in that month; usually: in one of theirs.
static void say(const Received *r, guint month, const char *who, uint32_t rows, double usually,
                Findings *findings) {
    const int at = r->first + (int)month;
    char a_month[G_ASCII_DTOSTR_BUF_SIZE];
    g_ascii_formatd(a_month, sizeof a_month, "%g", usually);
    note(rows == 0 ? "month-missing" : "month-thin",
         finding_text(findings, "%s, %d-%02d: %u row%s received, where %s a month is usual", who,
                      at / 12, at % 12 + 1, rows, rows == 1 ? "" : "s", a_month),
         findings);
}

// Whether the logs of two units or more begin or end in that month: none has its usual number of
// rows there. That is one finding, not one a unit; false if it is no such month.
static bool say_edge(const Received *r, guint month, Findings *findings) {
    if (r->units->len < 2 || (month > 0 && month + 1 < r->months))
        return false;
    uint32_t rows = 0;
    double usually = 0;
    for (guint k = 0; k < r->units->len; k++) {
        const ReceivedUnit *unit = &g_array_index(r->units, ReceivedUnit, k);
        if (received_state(unit, month) == RECEIVED_USUAL)
            return false;
        rows += unit->rows[month];
        usually += unit->usual;
    }
    say(r, month, "all units together", rows, usually, findings);
    return true;
}

// Whether the months without any row of which this is one are no more than chance makes.
static bool by_chance(const Received *r, const ReceivedUnit *unit, guint month) {
    guint from = month, to = month + 1;
    while (from > 0 && unit->rows[from - 1] == 0)
        from--;
    while (to < r->months && unit->rows[to] == 0)
        to++;
    return to - from <= received_longest(r->months, unit->usual);
}

// Says what is not as usual of a unit's months [from, to).
static void say_unit(const Received *r, const ReceivedUnit *unit, const char *who, guint from,
                     guint to, Findings *findings) {
    guint quiet = 0;
    for (guint m = from; m < to; m++)
        if (unit->rows[m] == 0 && by_chance(r, unit, m))
            quiet++;
        else if (received_state(unit, m) != RECEIVED_USUAL)
            say(r, m, who, unit->rows[m], unit->usual, findings);
    if (quiet == 0)
        return;
    char a_month[G_ASCII_DTOSTR_BUF_SIZE];
    g_ascii_formatd(a_month, sizeof a_month, "%g", unit->usual);
    note("month-quiet",
         finding_text(findings,
                      "%s: 0 rows received in %u of %u months, as chance has it where %s a month "
                      "is usual",
                      who, quiet, to - from, a_month),
         findings);
}

void received_say(const Received *r, const GPtrArray *units, Findings *findings) {
    const bool begins = r->months > 0 && say_edge(r, 0, findings),
               ends = r->months > 1 && say_edge(r, r->months - 1, findings);
    for (guint k = 0; k < r->units->len; k++) {
        const ReceivedUnit *unit = &g_array_index(r->units, ReceivedUnit, k);
        say_unit(r, unit, units->pdata[unit->unit], begins ? 1 : 0, r->months - (ends ? 1 : 0),
                 findings);
    }
    for (guint i = 0; i < r->far->len; i++) {
        const ReceivedFar *far = &g_array_index(r->far, ReceivedFar, i);
        const Finding f = {
            far->file,
            far->line,
            0,
            FIELD_COUNT,
            SEVERITY_NOTE,
            "date-far-off",
            NULL,
            "its day lies months away from the other records', so its year may be wrong"};
        finding_add(findings, &f, NULL, 0);
    }
}
