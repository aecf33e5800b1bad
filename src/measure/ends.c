// SPDX-License-Identifier: GPL-3.0-or-later
// Agreement of the two ends' logs, and the transfers that neither has.
#include "measure/ends.h"

#include "stats/agreement.h"
#include "stats/capture.h"
#include "stats/distribution.h"

#include <math.h>
#include <string.h>

const char *const ends_assumptions[] = {
    "The two ends log independently: a transfer that one end forgot is no likelier to be forgotten "
    "by the other. Where the same transfers are hard to log at both ends, the total is greater "
    "than estimated.",
    "At each end every transfer is as likely to be logged as any other. A month for which a unit "
    "sent no log breaks this, and the total comes out too large.",
    "Each pair of rows that was joined is one transfer, and no other two rows are. Pairs that were "
    "missed make the total too large, by about the part of them that was missed, wrong ones too "
    "small; the limits do not allow for this.",
    "Only transfers that departed count, between a unit that logs what it sends and a unit that "
    "logs what it receives.",
    NULL};

static EndsField field_of(const MergeField *m, FieldId f, double confidence) {
    EndsField e = {.field = f,
                   .sender_known = m->sender_known,
                   .receiver_known = m->receiver_known,
                   .both = m->both,
                   .equal = m->equal,
                   .near = m->near,
                   .agreement = m->both ? (double)m->equal / (double)m->both : NAN,
                   .kappa = {NAN, NAN, NAN}};
    if (m->k < 2 || m->both == 0)
        return e;
    double *cells = g_new(double, (size_t)m->k * m->k);
    for (size_t c = 0; c < (size_t)m->k * m->k; c++)
        cells[c] = (double)m->cells[c];
    const AgreementResult r = agreement_kappa(cells, m->k, AGREEMENT_PLAIN);
    const double half = distribution_normal_critical(confidence) * r.se;
    e.agreement = r.observed;
    e.kappa = (StatsInterval){r.kappa, fmax(-1, r.kappa - half), fmin(1, r.kappa + half)};
    if (isnan(r.kappa))
        e.kappa.lower = e.kappa.upper = NAN;
    g_free(cells);
    return e;
}

// Counts of transfers by sending unit; the network's at 0.
static EndsUnit *count_units(const Transfers *t) {
    EndsUnit *units = g_new0(EndsUnit, t->units->len);
    uint8_t *logs = g_malloc0(t->units->len); // 1: what it sends, 2: what it receives
    const uint16_t *from = transfers_units(t, FIELD_sending_unit),
                   *to = transfers_units(t, FIELD_receiving_unit);
    const uint8_t *departed = transfers_codes(t, FIELD_departed);
    for (size_t i = 0; i < t->n; i++) {
        const JoinLogged by = join_logged(t, i);
        logs[from[i]] |= (by & JOIN_SENDER) ? 1 : 0;
        logs[to[i]] |= (by & JOIN_RECEIVER) ? 2 : 0;
    }
    for (size_t i = 0; i < t->n; i++) {
        const JoinLogged by = join_logged(t, i);
        if (departed[i] != CODE_yes_no_YES || !(logs[from[i]] & 1) || to[i] == 0 ||
            !(logs[to[i]] & 2))
            continue;
        for (int all = 0; all < 2; all++) {
            EndsUnit *u = &units[all ? 0 : from[i]];
            u->sender += (by & JOIN_SENDER) != 0;
            u->receiver += (by & JOIN_RECEIVER) != 0;
            u->both += by == JOIN_BOTH;
        }
    }
    g_free(logs);
    return units;
}

static int by_code(gconstpointer a, gconstpointer b, gpointer codes) {
    const EndsUnit *x = a, *y = b;
    const GPtrArray *list = codes;
    return strcmp(list->pdata[x->unit], list->pdata[y->unit]);
}

static void estimate(EndsUnit *u, double confidence) {
    const double n1 = (double)u->sender, n2 = (double)u->receiver, both = (double)u->both;
    u->total = capture_logit(n1, n2, both, confidence);
    if (u->total.lower < n1 + n2 - both) // there are at least those that some log has
        u->total.lower = n1 + n2 - both;
    u->recorded = capture_ascertainment(n1, n2, both, confidence);
}

Ends *ends_measure(const Transfers *t, const Join *join, double confidence) {
    Ends *e = g_new0(Ends, 1);
    e->fields = g_array_new(FALSE, FALSE, sizeof(EndsField));
    e->units = g_array_new(FALSE, FALSE, sizeof(EndsUnit));
    e->joined = join->joined;
    e->doubtful = join->doubtful;
    e->logged = join->kept;
    e->logged_if_joined = join->kept - MIN(join->kept, join->would_join);
    e->left_out = join->kept > t->n;
    e->confidence = confidence;
    for (int f = 0; f < FIELD_STORED; f++)
        if (join->agreement->field[f].both > 0 && field_table[f].kind != KIND_UNIT) {
            const EndsField field = field_of(&join->agreement->field[f], (FieldId)f, confidence);
            g_array_append_val(e->fields, field);
        }
    EndsUnit *units = count_units(t);
    for (guint u = 0; u < t->units->len; u++) {
        units[u].unit = (uint16_t)u;
        if (u > 0 && units[u].sender + units[u].receiver == 0)
            continue;
        estimate(&units[u], confidence);
        g_array_append_val(e->units, units[u]);
    }
    g_free(units);
    g_array_sort_with_data(e->units, by_code, t->units);
    return e;
}

void ends_free(Ends *e) {
    if (!e)
        return;
    g_array_unref(e->fields);
    g_array_unref(e->units);
    g_free(e);
}
