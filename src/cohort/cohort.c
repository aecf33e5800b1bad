// SPDX-License-Identifier: GPL-3.0-or-later
// Repeats, exclusions and the account of rows.
#include "cohort/cohort.h"

#include "cohort/alike.h"
#include "cohort/repeats.h"

#include "record/derive.h"

static uint64_t drop_repeats(Transfers *t, const Network *network, const uint32_t *rank,
                             Findings *findings) {
    uint8_t *keep = g_malloc(t->n + 1);
    const uint64_t repeated = repeats_find(t, network, rank, keep, findings);
    if (repeated > 0)
        transfers_keep(t, keep);
    g_free(keep);
    return repeated;
}

static uint64_t leave_out(Transfers *t, const Network *network, const Condition *include,
                          int32_t last_day, Findings *findings) {
    uint8_t *keep = g_malloc(t->n + 1);
    uint64_t out = 0;
    for (size_t i = 0; i < t->n; i++) {
        const bool late = last_day != WHEN_UNKNOWN && transfers_day(t, i, network) > last_day;
        keep[i] = !late && (!include || condition_value(include, t, i) == CONDITION_TRUE);
        if (!keep[i])
            finding_put_aside(findings, t->file[i], t->line[i],
                              late ? "after-period" : "not-included",
                              late ? "lies after the audited period"
                                   : "the network's 'include' is not true of it",
                              NULL);
        out += !keep[i];
    }
    if (out > 0)
        transfers_keep(t, keep);
    g_free(keep);
    return out;
}

static void drop_joined(Transfers *t, const Network *network, const char *const *names, Join *join,
                        Findings *findings) {
    uint8_t *keep = g_malloc(t->n + 1);
    join_ends(t, network, names, keep, join, findings);
    if (join->joined > 0)
        transfers_keep(t, keep);
    join->kept = t->n;
    g_free(keep);
}

Account cohort_make(Transfers *t, const Network *network, const CohortSettings *settings,
                    Join *join, Received **received, Findings *findings) {
    Account a = {.read = settings->rows_read, .put_aside = findings->put_aside->len};
    a.repeated = drop_repeats(t, network, settings->rank, findings);
    alike_say(t, settings->names, findings);
    *received = received_count(t, network);
    received_say(*received, t->units, findings);
    drop_joined(t, network, settings->names, join, findings);
    a.merged = join->joined;
    derive_fill(t, network, settings->threads);
    a.left_out = leave_out(t, network, settings->include, settings->last_day, findings);
    a.used = t->n;
    return a;
}

bool cohort_account_holds(const Account *a) {
    return a->read == a->used + a->put_aside + a->repeated + a->merged + a->left_out;
}
