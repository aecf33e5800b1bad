// SPDX-License-Identifier: GPL-3.0-or-later
// Rules, requests and trial of a replay.
#include "command/whatif.h"

char *whatif_own_rules(const Network *network) {
    char *own = network->dir ? g_build_filename(network->dir, WHATIF_RULES, NULL) : NULL;
    if (own && g_file_test(own, G_FILE_TEST_EXISTS))
        return own;
    g_free(own);
    return NULL;
}

bool whatif_rules(Whatif *w, const char *file, const Network *network, GError **error) {
    w->rules = rules_load(file, network, error);
    return w->rules != NULL;
}

bool whatif_run(Whatif *w, const Session *a, const TrialSettings *settings, GError **error) {
    const int32_t first =
        a->settings.has_span ? period_first_day(a->settings.span_first) : WHEN_UNKNOWN;
    const int32_t end = a->settings.has_span ? period_first_day(a->settings.span_end) : 0;
    w->demand = demand_new(a->t, a->network, w->rules, first, end, error);
    if (w->demand)
        w->trial = trial_run(w->demand, w->rules, a->network, settings);
    return w->trial != NULL;
}

void whatif_clear(Whatif *w) {
    trial_free(w->trial);
    demand_free(w->demand);
    rules_free(w->rules);
}
