// SPDX-License-Identifier: GPL-3.0-or-later
// Counting: sums and lists of every cell against a plain scan of the records, on random cohorts of
// every measure; conditions by hand.
#include "measure/counted.h"
#include "measure/durations.h"
#include "measure/judged.h"
#include "record/derive.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

// A network without a folder: UTC, no targets, no caps.
static Network *network_of_nothing(void) {
    Network *network = network_load(NULL, NULL);
    ck_assert_ptr_nonnull(network);
    return network;
}

static const int32_t start = 31 * 366 * WHEN_DAY; // some day

// Random records: codes with unknowns, stamps that may be missing or out of order, lists of events.
static Transfers *random_transfers(GRand *r, size_t n) {
    Transfers *t = transfers_new();
    static const char *const units[] = {"B", "A", "C", "far", "E"};
    uint16_t unit[5];
    for (size_t u = 0; u < 5; u++)
        unit[u] = transfers_unit(t, units[u], strlen(units[u]));
    for (size_t i = 0; i < n; i++) {
        Draft d;
        transfers_clear_draft(&d);
        for (int f = 0; f < FIELD_STORED; f++)
            if (field_table[f].kind == KIND_CODE)
                d.value[f] = g_rand_int_range(r, 0, (gint32)field_table[f].codes->n + 1);
            else if (field_table[f].kind == KIND_TIME && g_rand_int_range(r, 0, 5) > 0)
                d.value[f] = start + g_rand_int_range(r, 0, 400 * WHEN_DAY) % (60 * (f + 1)) +
                             (int)(i % 400) * WHEN_DAY;
        d.value[FIELD_sending_unit] = unit[g_rand_int_range(r, 0, 3)];
        d.value[FIELD_receiving_unit] = g_rand_int_range(r, 0, 3) ? unit[3 + i % 2] : 0;
        if (d.value[FIELD_requested_at] == WHEN_UNKNOWN)
            d.value[FIELD_requested_at] = start + (int)(i % 400) * WHEN_DAY;
        Event e[3];
        const size_t events = (size_t)g_rand_int_range(r, 0, 4);
        for (size_t k = 0; k < events; k++)
            e[k] = (Event){(uint8_t)g_rand_int_range(r, 1, 8), (uint8_t)g_rand_int_range(r, 0, 7)};
        d.value[FIELD_events] = g_rand_int_range(r, 0, 3) ? transfers_events(t, e, events) : 0;
        d.distance_km =
            g_rand_int_range(r, 0, 4) ? g_rand_int_range(r, 0, 1000) / 8.0 : (double)NAN;
        ck_assert(transfers_add(t, &d));
    }
    return t;
}

typedef struct {
    const CountData *d;
    const Indicator *in;
    size_t cells;
} Checked;

// Of a record that units are judged by, what the plain scan makes of it.
static uint8_t judged_state(const CountData *d, const Indicator *in, size_t row, uint8_t state) {
    const ConditionValue value = condition_value(in->judged, d->t, row);
    return value == CONDITION_TRUE      ? state
           : value == CONDITION_UNKNOWN ? MIN(state, COUNT_UNKNOWN)
                                        : COUNT_OUT;
}

static bool belongs(const CountData *d, const Indicator *in, size_t row, unsigned place,
                    const Period *p, int by, unsigned group) {
    const uint16_t unit = g_array_index(d->units, uint16_t, place);
    const int month = d->first + d->month[row];
    if (month < p->first || month >= p->end)
        return false;
    if (place > 0 && transfers_units(d->t, FIELD_sending_unit)[row] != unit)
        return false;
    if (by < 0)
        return true;
    const FieldId f = in->by[by];
    return count_value(d->t, f, row) == g_array_index(d->codes[f], uint16_t, group);
}

static void check_sums(const CountData *d, const Indicator *in, const Tally *tally, unsigned place,
                       unsigned period, int by, unsigned group, bool judged) {
    const Period *p = &g_array_index(d->periods, Period, period);
    uint64_t part[64] = {0}, own_part[64] = {0};
    const TallySums got = tally_cell(
        tally, (TallyCell){place, p->first - d->first, p->end - d->first, by, group, judged}, part);
    TallySums own = {0};
    for (size_t row = 0; row < d->t->n; row++) {
        CountRecord r = {0};
        count_records(d, in, row, 1, &r);
        if (judged)
            r.state = judged_state(d, in, row, r.state);
        if (r.state == COUNT_OUT || !belongs(d, in, row, place, p, by, group))
            continue;
        own.unknown += r.state == COUNT_UNKNOWN;
        if (r.state != COUNT_IN)
            continue;
        double k = 0;
        if (in->measure == MEASURE_HOURS)
            k = r.minutes;
        else if (in->measure == MEASURE_SHARE || in->measure == MEASURE_RATE)
            k = r.events;
        own.total++, own.sum += k, own.squares += k * k, own.exposure += r.exposure;
        own.largest = MAX(own.largest, k);
        if (in->measure == MEASURE_MIX && in->field != FIELD_events)
            own_part[count_value(d->t, in->field, row)]++;
    }
    ck_assert_uint_eq(got.unknown, own.unknown);
    ck_assert_double_eq(got.sum, own.sum);
    ck_assert_double_eq(got.squares, own.squares);
    ck_assert_double_eq(got.largest, own.largest);
    ck_assert_double_eq_tol(got.exposure, own.exposure, 1e-9 * (1 + own.exposure));
    if (in->measure != MEASURE_MIX || in->field != FIELD_events)
        ck_assert_uint_eq(got.total, own.total);
    for (size_t v = 0; in->field != FIELD_events && v < tally_values(tally); v++)
        ck_assert_uint_eq(part[v], own_part[v]);
}

// By sending unit and start, equal ones as they are stored.
static gint by_unit_and_start(gconstpointer a, gconstpointer b, gpointer user) {
    const Checked *checked = user;
    const Transfers *t = checked->d->t;
    const uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    const uint16_t *unit = transfers_units(t, FIELD_sending_unit), *place = checked->d->place;
    const int32_t *from = transfers_times(t, checked->in->from);
    if (unit[x] != unit[y])
        return place[unit[x]] < place[unit[y]] ? -1 : 1;
    if (from[x] != from[y])
        return from[x] < from[y] ? -1 : 1;
    return x < y ? -1 : x > y;
}

static void check_list(void *user, const DurationsCell *c) {
    Checked *checked = user;
    const CountData *d = checked->d;
    const Period *p = &g_array_index(d->periods, Period, c->period);
    GArray *own = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    for (uint32_t row = 0; row < d->t->n; row++) {
        CountRecord r = {0};
        count_records(d, checked->in, row, 1, &r);
        if (r.state == COUNT_IN && belongs(d, checked->in, row, c->place, p, c->by, c->group)) {
            const uint32_t value =
                checked->in->measure == MEASURE_QUANTILE ? (uint32_t)r.minutes : row;
            g_array_append_val(own, value);
        }
    }
    ck_assert_uint_eq(c->n, own->len);
    if (c->rows)
        g_array_sort_with_data(own, by_unit_and_start, checked);
    double sum = 0, own_sum = 0;
    for (size_t i = 0; i < c->n; i++) {
        own_sum += g_array_index(own, uint32_t, i);
        if (c->rows)
            ck_assert_uint_eq(c->rows[i], g_array_index(own, uint32_t, i));
    }
    for (size_t i = 0; i < c->minutes.k; i++) {
        sum += c->minutes.value[i] * runs_count(c->minutes, i);
        ck_assert(i == 0 || c->minutes.value[i - 1] < c->minutes.value[i]);
    }
    if (!c->rows) {
        ck_assert_double_eq(runs_size(c->minutes), (double)c->n);
        ck_assert_double_eq(sum, own_sum);
    }
    checked->cells++;
    g_array_unref(own);
}

// Ranks 1, n and others between, in no order, one of them twice.
static void ask(void *user, size_t n, size_t rank[DURATIONS_RANKS]) {
    (void)user;
    const size_t own[] = {n, 0, (n + 1) / 2, 1, (n + 1) / 2, (n + 3) / 4};
    memcpy(rank, own, sizeof own);
}

static gint by_size(gconstpointer a, gconstpointer b) {
    const uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    return (x > y) - (x < y);
}

static void check_ranks(void *user, const DurationsCell *c,
                        const uint32_t minutes[DURATIONS_RANKS]) {
    Checked *checked = user;
    const CountData *d = checked->d;
    const Period *p = &g_array_index(d->periods, Period, c->period);
    GArray *own = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    for (uint32_t row = 0; row < d->t->n; row++) {
        CountRecord r = {0};
        count_records(d, checked->in, row, 1, &r);
        const uint32_t value = (uint32_t)r.minutes;
        if (r.state == COUNT_IN && belongs(d, checked->in, row, c->place, p, c->by, c->group))
            g_array_append_val(own, value);
    }
    g_array_sort(own, by_size);
    ck_assert_uint_eq(c->n, own->len);
    size_t rank[DURATIONS_RANKS] = {0};
    ask(NULL, c->n, rank);
    for (size_t i = 0; i < DURATIONS_RANKS && c->n > 0; i++)
        if (rank[i] > 0)
            ck_assert_uint_eq(minutes[i], g_array_index(own, uint32_t, rank[i] - 1));
    checked->cells++;
    g_array_unref(own);
}

static void check_indicator(const CountData *d, const Indicator *in, const Tally *tally) {
    for (unsigned place = 0; place < d->units->len; place++)
        for (unsigned p = 0; p < d->periods->len; p++) {
            if (place > 0 && g_array_index(d->periods, Period, p).kind == PERIOD_MONTH)
                continue;
            check_sums(d, in, tally, place, p, -1, 0, false);
            if (catalogue_judges(in))
                check_sums(d, in, tally, place, p, -1, 0, true);
            for (unsigned b = 0; (place == 0 || p == 0) && b < in->n_by; b++)
                for (unsigned g = 0; g < d->codes[in->by[b]]->len; g++)
                    check_sums(d, in, tally, place, p, (int)b, g, false);
        }
    if (in->measure != MEASURE_QUANTILE && in->measure != MEASURE_OVERLAP)
        return;
    Checked checked = {d, in, 0};
    durations_each(d, in, check_list, &checked);
    ck_assert_uint_ge(checked.cells, d->periods->len);
    if (in->measure != MEASURE_QUANTILE)
        return;
    const size_t cells = checked.cells;
    durations_at(d, in, &(DurationsAsked){ask, check_ranks, &checked});
    ck_assert_uint_eq(checked.cells, 2 * cells);
}

START_TEST(every_cell_is_what_a_plain_scan_finds) {
    Network *network = network_of_nothing();
    GPtrArray *catalogue = catalogue_load(network, NULL);
    ck_assert_ptr_nonnull(catalogue);
    static const size_t sizes[] = {0, 1, 60, 1500}; // more than one block of records, too
    GRand *r = g_rand_new_with_seed(20310309);
    for (size_t s = 0; s < G_N_ELEMENTS(sizes); s++)
        for (int spanned = 0; spanned < 2; spanned++) {
            Transfers *t = random_transfers(r, sizes[s]);
            ck_assert(transfers_seal(t));
            derive_fill(t, network, 1);
            const int first = period_month(start / WHEN_DAY);
            CountSpan span = {spanned, first + 3, first + 8};
            Counted *counted = counted_new(t, network, catalogue, &span, spanned ? 3 : 1);
            const guint step = sizes[s] > 1000 ? 7 : 1; // a plain scan is slow
            for (guint i = 0; i < catalogue->len; i += step)
                check_indicator(counted->data, catalogue->pdata[i], counted->tally[i]);
            counted_free(counted);
            transfers_free(t);
        }
    g_rand_free(r);
    g_ptr_array_unref(catalogue);
    network_free(network);
}
END_TEST

// One record, as what its codes make of a condition.
static ConditionValue value_of(const char *condition, const Transfers *t) {
    GError *error = NULL;
    Condition *c = condition_parse(condition, &error);
    ck_assert_msg(c != NULL, "%s", error ? error->message : "");
    const ConditionValue value = condition_value(c, t, 0);
    condition_free(c);
    return value;
}

START_TEST(conditions_have_three_values) {
    Transfers *t = transfers_new();
    Draft d;
    transfers_clear_draft(&d);
    d.value[FIELD_sending_unit] = transfers_unit(t, "A", 1);
    d.value[FIELD_urgency] = CODE_urgency_URGENT;
    ck_assert(transfers_add(t, &d));
    ck_assert(transfers_seal(t));
    Network *network = network_of_nothing();
    derive_fill(t, network, 1);
    // record.md: a conjunction is false if any term is false, else unknown if any is unknown
    ck_assert_int_eq(value_of("all", t), CONDITION_TRUE);
    ck_assert_int_eq(value_of("urgency=urgent|planned", t), CONDITION_TRUE);
    ck_assert_int_eq(value_of("urgency!=urgent", t), CONDITION_FALSE);
    ck_assert_int_eq(value_of("sex=male", t), CONDITION_UNKNOWN);
    ck_assert_int_eq(value_of("sex!=male", t), CONDITION_UNKNOWN);
    ck_assert_int_eq(value_of("sex=male & urgency=planned", t), CONDITION_FALSE);
    ck_assert_int_eq(value_of("sex=male & urgency=urgent", t), CONDITION_UNKNOWN);
    ck_assert_int_eq(value_of("event=any", t), CONDITION_UNKNOWN);
    ck_assert_int_eq(value_of("sending_unit=A|B & urgency=urgent", t), CONDITION_TRUE);
    ck_assert_int_eq(value_of("sending_unit!=A", t), CONDITION_FALSE);
    ck_assert_int_eq(value_of("sending_unit=B", t), CONDITION_FALSE);
    ck_assert_int_eq(value_of("receiving_unit=B", t), CONDITION_UNKNOWN);
    transfers_free(t);
    network_free(network);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("measure");
    TCase *tests = tcase_create("counting");
    tcase_set_timeout(tests, 120);
    tcase_add_test(tests, every_cell_is_what_a_plain_scan_finds);
    tcase_add_test(tests, conditions_have_three_values);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
