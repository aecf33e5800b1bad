// SPDX-License-Identifier: GPL-3.0-or-later
// Words and curve of a plan.
#include "pack/planpack.h"

#include "base/percent.h"
#include "pack/tables.h"
#include "pack/words.h"

#include <math.h>

enum { POINTS = 40 };

static char *figure(const Planning *p, const PlanpackWords *w, double value) {
    if (p->kind == PLANNING_SHARE)
        return percent_exact(value, 3);
    if (p->kind == PLANNING_MEDIAN)
        return g_strdup_printf("%.0f min", value);
    return g_strdup_printf("%.3g %s", value * w->times, w->unit);
}

static char *count(double n) {
    return words_figure(WORDS_COUNT, n, 0);
}

static void say_needed(GString *out, const Planning *p, const PlanpackWords *w) {
    const double needed = planning_needed(p);
    char *now = figure(p, w, p->now), *then = figure(p, w, p->then),
         *wanted = percent_exact(p->wanted, 3);
    g_string_append_printf(out, "%s: a change from %s to %s ", w->subject, now, then);
    if (isnan(needed)) {
        g_string_append_printf(out,
                               "would not be seen with power %s however long one waits "
                               "(a million in each period do not do).\n",
                               wanted);
    } else {
        char *n = count(needed);
        g_string_append_printf(out,
                               "would be seen with power %s (two-sided level %g) from %s %s "
                               "in each of two periods on",
                               wanted, p->alpha, n, w->records);
        if (p->per_quarter > 0) {
            const double quarters = ceil(needed / p->per_quarter - 1e-9);
            g_string_append_printf(out, ": %.0f quarter%s before and as many after, at this volume",
                                   quarters, quarters == 1 ? "" : "s");
        }
        g_string_append(out, ".\n");
        g_free(n);
    }
    g_free(now);
    g_free(then);
    g_free(wanted);
}

static void say_at_hand(GString *out, const Planning *p, const PlanpackWords *w, double quarters) {
    const double n = floor(p->per_quarter * quarters);
    double down, up;
    if (!(n >= 1))
        return;
    planning_visible(p, n, &down, &up);
    const double seen = planning_power(p, n);
    char *size = count(n), *low = figure(p, w, down), *high = figure(p, w, up),
         *power = percent_text(seen, percent_decimals(seen)), *wanted = percent_exact(p->wanted, 3);
    g_string_append_printf(out,
                           "With %.0f quarter%s against as many (%s %s each) that change has power "
                           "%s; what would be seen with power %s: ",
                           quarters, quarters == 1 ? "" : "s", size, w->records, power, wanted);
    if (isnan(down) && isnan(up))
        g_string_append(out, "no change.\n");
    else
        g_string_append_printf(out, "%s%s%s%s%s.\n", isnan(down) ? "" : "a fall to ",
                               isnan(down) ? "" : low, isnan(down) || isnan(up) ? "" : ", ",
                               isnan(up) ? "" : "a rise to ", isnan(up) ? "" : high);
    g_free(size);
    g_free(low);
    g_free(high);
    g_free(power);
    g_free(wanted);
}

GString *planpack_text(const Planning *p, const PlanpackWords *w) {
    GString *out = g_string_new(NULL);
    say_needed(out, p, w);
    say_at_hand(out, p, w, 1);
    say_at_hand(out, p, w, 4);
    static const char rates[] =
        "Test: the conditional test of two Poisson rates, exact; the size is divided by how "
        "events cluster in a transfer.";
    static const char *const tests[] = {
        "Test: Fisher's mid-P test of two shares, exact.", rates,
        "Test: Mann-Whitney; the durations at hand, all stretched alike (Noether 1987)."};
    g_string_append_printf(
        out,
        "%s A plan, not a promise: it supposes that volume and case-mix stay as "
        "they are and that one change is looked for, decided beforehand. An audit, "
        "which looks at many at once, calls fewer changes a signal.\n",
        tests[p->kind]);
    return out;
}

static double largest(const Planning *p) {
    const double needed = planning_needed(p);
    if (!isnan(needed))
        return MAX(2 * needed, POINTS);
    return p->per_quarter > 0 ? MAX(16 * p->per_quarter, POINTS) : 10000;
}

static double size_at(double most, int k) {
    return MAX(1, floor(most * (k + 1) / POINTS));
}

GString *planpack_curve(const Planning *p) {
    GString *out = g_string_new("size_each,quarters_each,power\n");
    const double most = largest(p);
    for (int k = 0; k < POINTS; k++) {
        const double n = size_at(most, k);
        tables_number(out, n);
        g_string_append_c(out, ',');
        tables_number(out, n / p->per_quarter);
        g_string_append_c(out, ',');
        tables_number(out, planning_power(p, n));
        g_string_append_c(out, '\n');
    }
    return out;
}

Chart *planpack_chart(const Planning *p, const PlanpackWords *w) {
    const double needed = planning_needed(p), most = largest(p);
    char *now = figure(p, w, p->now), *then = figure(p, w, p->then), *n = count(needed);
    char *title = isnan(needed)
                      ? g_strdup_printf("%s from %s to %s: out of reach", w->subject, now, then)
                      : g_strdup_printf("%s from %s to %s: seen from %s %s a period on", w->subject,
                                        now, then, n, w->records);
    char *how =
        g_strdup_printf("Power: how likely the change is to be seen, against the size of each of "
                        "the two periods, in %s. The dashed line is the power wanted.",
                        w->records);
    const ChartFrame frame = {CHART_WIDTH, 60, 40, 12, 34, 210};
    Chart *c = chart_new("power.gp", title, how, &frame);
    chart_range(c, 'x', 0, most);
    chart_range(c, 'y', 0, 1.02);
    chart_steps(c, 'x', most, 6, 1, "");
    chart_steps(c, 'y', 1, 5, 100, " %");
    chart_reference(c, 'y', p->wanted);
    for (int k = 0; k < POINTS; k++) {
        const double row[] = {size_at(most, k), planning_power(p, size_at(most, k)), NAN};
        chart_row(c, 3, row);
        if (needed > row[0] && needed <= size_at(most, k + 1) && k + 1 < POINTS) {
            const double power = planning_power(p, needed), mark[] = {needed, power, power};
            chart_row(c, 3, mark);
        }
    }
    c->name = g_strdup("power");
    c->finding = g_strdup_printf("Curve of power against size. %s.", title);
    g_free(now);
    g_free(then);
    g_free(n);
    g_free(title);
    g_free(how);
    return c;
}
