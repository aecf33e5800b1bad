// SPDX-License-Identifier: GPL-3.0-or-later
// Published values for series and queues: control charts, run charts, block bootstrap, Erlang's
// formulas, absences that overlap.
#include "published.h"
#include "stats/bootstrap.h"
#include "stats/concurrent.h"
#include "stats/control.h"
#include "stats/distribution.h"
#include "stats/erlang.h"
#include "stats/quantile.h"
#include "stats/run_chart.h"
#include "stats/summary.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 256 };

// ---- control charts ----

// Centre, limits, or how many of the values lie beyond them.
static CheckAnswer chart_part(const CheckRow *row, StatsInterval limits) {
    if (check_says(row->quantity, "limits"))
        return check_pair(limits.lower, limits.upper);
    if (check_says(row->quantity, "UCL") || check_says(row->quantity, "upper"))
        return check_number(limits.upper);
    if (check_says(row->quantity, "LCL") || check_says(row->quantity, "lower"))
        return check_number(limits.lower);
    return check_number(limits.estimate);
}

static CheckAnswer beyond(const double *values, size_t n, StatsInterval limits) {
    double count = 0;
    for (size_t i = 0; i < n; i++)
        count += control_beyond(values[i], limits);
    return check_number(count);
}

static CheckAnswer xmr(const CheckRow *row) {
    double values[MOST];
    size_t n = check_sample("nist flow", values, MOST);
    if (check_says(row->inputs, "one value"))
        n = 1;
    else if (check_says(row->inputs, "missing period")) { // 7 NaN 9: no range on either side of it
        const double gap[] = {7, NAN, 9, 12};
        return control_mean_range(gap, 4) == 3 && isnan(control_mean_range(gap, 3))
                   ? check_text(row->expected)
                   : check_number(control_mean_range(gap, 4));
    } else if (!check_says(row->inputs, "flow"))
        n = check_numbers(row->inputs, values, MOST);
    if (n == 0)
        return check_not_mine();
    if (check_says(row->quantity, "MRbar"))
        return check_number(control_mean_range(values, n));
    if (check_says(row->quantity, "count"))
        return beyond(values, n, control_xmr(values, n));
    return chart_part(row, control_xmr(values, n));
}

static CheckAnswer c_chart(const CheckRow *row) {
    double values[MOST];
    const size_t n = check_says(row->inputs, "wafer")
                         ? check_sample("NIST wafer counts", values, MOST)
                         : check_numbers(row->inputs, values, MOST);
    const StatsInterval limits = control_u(summary_mean(values, n), 1, 1);
    return check_says(row->quantity, "count") ? beyond(values, n, limits) : chart_part(row, limits);
}

static size_t nist_p(double *x, double *n) {
    const size_t k = check_sample("NIST p chart counts", x, MOST);
    for (size_t i = 0; i < k; i++)
        n[i] = 50;
    return k;
}

static CheckAnswer p_chart(const CheckRow *row) {
    double x[MOST], n[MOST];
    if (check_says(row->inputs, "no events"))
        return chart_part(row, control_p(0, 50, 1));
    if (check_says(row->inputs, "n=0"))
        return check_number(isnan(control_p(0.1, 0, 1).upper) && isnan(control_u(0.1, 0, 1).upper)
                                ? control_p(0.1, 0, 1).estimate
                                : 0);
    const size_t k = nist_p(x, n);
    if (!check_says(row->inputs, "x 50"))
        return check_not_mine();
    const StatsInterval limits = control_p(control_centre(x, n, k), 50, 1);
    for (size_t i = 0; i < k; i++)
        x[i] /= n[i];
    return check_says(row->quantity, "count") ? beyond(x, k, limits) : chart_part(row, limits);
}

// The area in units of 50.
static size_t cloth(double *x, double *units) {
    const size_t k = check_sample("dyed cloth defects", x, MOST);
    check_sample("dyed cloth area", units, MOST);
    for (size_t i = 0; i < k; i++)
        units[i] /= 50;
    return k;
}

static CheckAnswer u_chart(const CheckRow *row) {
    double x[MOST], units[MOST], size = 10;
    const size_t k = cloth(x, units);
    if (!check_key(row, "n_i", &size) && !check_says(row->inputs, "cloth"))
        return check_not_mine();
    return chart_part(row, control_u(control_centre(x, units, k), size, 1));
}

static CheckAnswer laney(const CheckRow *row) {
    double x[MOST], n[MOST], size = 50;
    const bool u = check_says(row->method, "u'");
    const size_t k = u ? cloth(x, n) : nist_p(x, n);
    const double centre = control_centre(x, n, k);
    const double sigma =
        u ? control_sigma_z_u(x, n, k, centre) : control_sigma_z_p(x, n, k, centre);
    if (check_says(row->quantity, "sigma"))
        return check_number(sigma);
    if (check_says(row->quantity, "MRbar"))
        return check_number(sigma * 1.128);
    if (!check_key(row, "n_i", &size) && u)
        return check_not_mine();
    return chart_part(row, u ? control_u(centre, size, sigma) : control_p(centre, size, sigma));
}

static CheckAnswer g_chart(const CheckRow *row) {
    double gaps[MOST], p;
    if (check_says(row->inputs, "fewer than 2"))
        return chart_part(row, control_g(gaps, 0));
    if (check_says(row->inputs, "consecutive"))
        return check_number(control_g((double[]){0}, 1).estimate);
    const size_t n = check_numbers(row->inputs, gaps, MOST);
    const StatsInterval limits = control_g(gaps, n);
    const char *at = strstr(row->method, "=0.");
    at = at != NULL ? at : strstr(row->method, ">=");
    if (check_says(row->method, "smallest g") && at != NULL && check_numbers(at, &p, 1) == 1)
        return check_number(control_g_quantile(limits.estimate, p));
    return chart_part(row, limits);
}

static CheckAnswer t_chart(const CheckRow *row) {
    double times[MOST], at;
    const size_t n = check_sample("valve failures", times, MOST);
    if (check_says(row->inputs, "same minute"))
        return check_number(control_t_transform(0));
    if (check_says(row->inputs, "^") && check_numbers(row->inputs, &at, 1) == 1)
        return check_number(control_t_transform(at));
    if (!check_says(row->inputs, "20 times"))
        return check_not_mine();
    const StatsInterval limits = control_t(times, n);
    if (check_says(row->quantity, "MRbar"))
        return check_number((limits.upper - limits.estimate) * 1.128 / 3);
    if (!check_says(row->quantity, "hours"))
        return chart_part(row, limits);
    return check_number(
        control_t_back(check_says(row->method, "UCL") ? limits.upper : limits.estimate));
}

// ---- run charts ----

static CheckAnswer run_limit(const CheckRow *row) {
    double n;
    if (!check_key(row, "n", &n))
        return check_not_mine();
    return check_number(check_says(row->method, "crossing") ? run_chart_crossings_limit((size_t)n)
                                                            : run_chart_longest_limit((size_t)n));
}

static CheckAnswer run_false(const CheckRow *row) {
    double n, limits[2];
    const char *list = strstr(row->inputs, "limits");
    if (!check_key(row, "n", &n) || list == NULL || check_numbers(list, limits, 2) != 2)
        return check_not_mine();
    return check_number(run_chart_p_either((size_t)n, (size_t)limits[0], (size_t)limits[1]));
}

static CheckAnswer run_row(const CheckRow *row) {
    double values[MOST];
    size_t n = check_numbers(row->inputs, values, MOST);
    if (check_says(row->inputs, "on the median"))
        values[0] = values[1] = values[2] = 4, n = 3;
    else if (check_says(row->inputs, "useful points"))
        for (n = 0; n < 9; n++)
            values[n] = n < 5 ? 1 : 2;
    if (n < 3)
        return check_not_mine();
    const RunChart chart = check_says(row->inputs, "useful points")
                               ? run_chart_about(values, n, 1.5)
                               : run_chart(values, n);
    if (check_says(row->quantity, "assessment") || check_says(row->quantity, "signal"))
        return check_number(run_chart_signal(&chart));
    if (check_says(row->quantity, "median"))
        return check_number(chart.median);
    if (check_says(row->quantity, "useful") || strcmp(row->quantity, "n") == 0)
        return check_number((double)chart.useful);
    return check_number(
        (double)(check_says(row->quantity, "cross") ? chart.crossings : chart.longest));
}

// ---- block bootstrap ----

static CheckAnswer block(const CheckRow *row) {
    double values[MOST], length = 1;
    size_t n = check_sample("lh series", values, MOST);
    const bool circular = check_says(row->method, "circular");
    if (check_says(row->inputs, "constant series"))
        for (n = 0; n < 20; n++)
            values[n] = 3;
    else if (check_says(row->inputs, "l>=n"))
        length = (double)n;
    else if (!check_key(row, "l", &length) && !check_says(row->method, "l=1"))
        return check_not_mine();
    const BootstrapMean m = bootstrap_block_mean(values, n, (size_t)length, circular);
    if (check_says(row->quantity, "equals")) { // the variance of the ordinary bootstrap of a mean
        const double sd = summary_sd(values, n), k = (double)n;
        return fabs(m.variance - (k - 1) / (k * k) * sd * sd) < 1e-15 ? check_text(row->expected)
                                                                      : check_number(m.variance);
    }
    return check_number(row->quantity[0] == 'V' ? m.variance : m.mean);
}

// ---- queues ----

static CheckAnswer erlang(const CheckRow *row) {
    double servers, load, places, arrivals, served, b;
    if (check_key(row, "lambda", &arrivals) && check_key(row, "mu", &served) &&
        check_key(row, "c", &servers)) {
        load = arrivals / served;
        if (check_says(row->quantity, "Lq") || check_says(row->method, "queue"))
            return check_number(erlang_queue(servers, load));
        return check_number(erlang_wait(servers, load, 1 / served));
    }
    const char *stated = strstr(row->method, "B=");
    stated = stated != NULL ? stated : strstr(row->method, "B<");
    if (stated != NULL && check_numbers(stated, &b, 1) == 1) {
        if (check_key(row, "A", &load))
            return check_number(erlang_servers(load, b));
        return check_key(row, "N", &servers) ? check_number(erlang_load(servers, b))
                                             : check_not_mine();
    }
    if (!check_key(row, "A", &load) ||
        (!check_key(row, "N", &servers) && !check_key(row, "c", &servers)))
        return check_not_mine();
    if (check_key(row, "K", &places))
        return check_number(erlang_loss_with_queue(servers, places, load));
    if (check_says(row->quantity, "Lq"))
        return check_number(erlang_queue(servers, load));
    if (check_says(row->method, "Erlang B / C") &&
        erlang_c(servers, load) != erlang_b(servers, load))
        return check_text("B and C differ");
    return check_number(check_says(row->method, "Erlang C") ? erlang_c(servers, load)
                                                            : erlang_b(servers, load));
}

// ---- absences ----

// Intervals `[0,4)` of the row's source or inputs, in hours.
static size_t intervals(const char *text, int64_t *start, int64_t *end) {
    size_t n = 0;
    double pair[2];
    for (const char *at = strchr(text, '['); at != NULL && n < MOST; at = strchr(at + 1, '['))
        if (check_numbers(at, pair, 2) == 2) {
            start[n] = (int64_t)pair[0];
            end[n++] = (int64_t)pair[1];
        }
    return n;
}

static CheckAnswer base_cover(const CheckRow *row) {
    static const char *const levels[] = {"at least one", "two", "three", "four"};
    int64_t start[MOST], end[MOST];
    double window[2];
    size_t n = intervals(row->inputs, start, end);
    if (n == 0)
        n = intervals(row->source, start, end);
    Concurrent c;
    if (check_says(row->inputs, "end before start"))
        return concurrent_sweep(1, (int64_t[]){6}, (int64_t[]){4}, &c, 0, NULL, NULL)
                   ? check_number(c.sum)
                   : check_text("error");
    if (n == 0 || !concurrent_sweep(n, start, end, &c, 0, NULL, NULL))
        return check_not_mine();
    const char *over = strstr(row->method, "over [");
    if (over != NULL && check_numbers(over, window, 2) == 2)
        return check_number(c.sum / (window[1] - window[0]));
    if (check_says(row->quantity, "count") || check_says(row->quantity, "max"))
        return check_number(c.peak);
    size_t level = 0;
    for (size_t k = 1; k < CONCURRENT_LEVELS; k++)
        if (check_says(row->method, levels[k]))
            level = k;
    return check_number(c.at_least[level]);
}

static CheckAnswer shewhart(const CheckRow *row) {
    double limit;
    const char *at = strchr(row->method, '>');
    return at != NULL && check_numbers(at, &limit, 1) == 1
               ? check_number(distribution_normal_two_sided(limit))
               : check_not_mine();
}

const CheckMethod published_series[] = {
    {"XmR*", xmr},
    {"mean moving range*", xmr},
    {"c chart*", c_chart},
    {"p chart*", p_chart},
    {"p / u chart*", p_chart},
    {"u chart*", u_chart},
    {"Laney*", laney},
    {"g chart*", g_chart},
    {"g / t chart*", g_chart},
    {"probability-based upper limit*", g_chart},
    {"geometric median*", g_chart},
    {"t chart*", t_chart},
    {"longest-run limit*", run_limit},
    {"crossings limit*", run_limit},
    {"run-chart rules (either)*", run_false},
    {"run chart*", run_row},
    {"run-chart*", run_row},
    {"useful observations*", run_row},
    {"longest run*", run_row},
    {"*crossings*", run_row},
    {"moving-block*", block},
    {"moving block*", block},
    {"circular block*", block},
    {"identity: l=1*", block},
    {"Erlang*", erlang},
    {"inverse Erlang*", erlang},
    {"fewest servers*", erlang},
    {"M/M/*", erlang},
    {"hours with*", base_cover},
    {"largest number away*", base_cover},
    {"time-average number away*", base_cover},
    {"base cover*", base_cover},
    {"P(|Z|>*", shewhart},
    {NULL, NULL},
};
