// SPDX-License-Identifier: GPL-3.0-or-later
// Published values for rank methods.
#include "published.h"
#include "stats/quantile.h"
#include "stats/rank.h"
#include "stats/shift.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { MOST = 1000 };

typedef struct {
    double x[MOST], y[MOST];
    size_t nx, ny;
} Samples;

static size_t month(const char *text, const char *name, int number, double *values) {
    char key[32];
    snprintf(key, sizeof key, "airquality ozone %d", number);
    return check_says(text, name) ? check_sample(key, values, MOST) : 0;
}

// The two months named, in calendar order (as the rows name them).
static bool two_months(const char *text, Samples *s) {
    static const char *const names[] = {"May", "Jun", "Jul", "Aug", "Sep"};
    s->nx = s->ny = 0;
    for (int i = 0; i < 5; i++) {
        size_t *count = s->nx == 0 ? &s->nx : &s->ny;
        if (*count == 0)
            *count = month(text, names[i], i + 5, s->nx == 0 ? s->x : s->y);
    }
    return s->nx > 0 && s->ny > 0;
}

// `all values equal 5 v 5`, `n1=0`, lists `1,2,3 v 4,5`, or samples by name.
static bool samples(const CheckRow *row, Samples *s) {
    double sizes[2] = {0, 0}, n1;
    s->nx = s->ny = 0;
    if (check_key(row, "n1", &n1) && n1 == 0)
        return true;
    if (check_says(row->inputs, "all values equal")) {
        if (check_numbers(row->inputs, sizes, 2) != 2)
            return false;
        for (; s->nx < (size_t)sizes[0]; s->nx++)
            s->x[s->nx] = 1;
        for (; s->ny < (size_t)sizes[1]; s->ny++)
            s->y[s->ny] = 1;
        return true;
    }
    if (check_says(row->inputs, "airquality"))
        return two_months(row->inputs, s);
    if (check_says(row->inputs, "x(10)") || check_says(row->inputs, "permeability")) {
        s->nx = check_sample("permeability x", s->x, MOST);
        s->ny = check_sample("permeability y", s->y, MOST);
        return s->nx > 0 && s->ny > 0;
    }
    char first[512];
    const char *versus = strstr(row->inputs, " v ");
    if (versus == NULL || (size_t)(versus - row->inputs) >= sizeof first)
        return false;
    memcpy(first, row->inputs, (size_t)(versus - row->inputs));
    first[versus - row->inputs] = '\0';
    s->nx = check_numbers(first, s->x, MOST);
    s->ny = check_numbers(versus, s->y, MOST);
    return s->nx > 0 && s->ny > 0;
}

static double side_of(const CheckRow *row, const RankTest *t) {
    if (check_says(row->quantity, "greater") || check_says(row->method, "greater"))
        return t->greater;
    if (check_says(row->quantity, "less") || check_says(row->method, "less"))
        return t->less;
    return t->two_sided;
}

static RankMethod method_of(const CheckRow *row) {
    if (check_says(row->method, "exact"))
        return RANK_EXACT;
    if (!check_says(row->method, "normal"))
        return RANK_AUTO;
    return check_says(row->method, "no CC") ? RANK_NORMAL_PLAIN : RANK_NORMAL;
}

static CheckAnswer mann_whitney(const CheckRow *row) {
    Samples s;
    if (!samples(row, &s))
        return check_not_mine();
    RankTest t = rank_mann_whitney(s.x, s.nx, s.y, s.ny, method_of(row));
    if (row->quantity[0] == 'p')
        return check_number(side_of(row, &t));
    if (strcmp(row->quantity, "z") == 0)
        return check_number(t.z);
    return check_number(t.statistic);
}

// `1 2 v 3 4 / 5 v 6 7`: strata, x v y in each.
static CheckAnswer van_elteren(const CheckRow *row) {
    static double values[2 * MOST];
    char text[1024], *rest = text;
    Runs x[16], y[16];
    size_t strata = 0, used = 0;
    snprintf(text, sizeof text, "%s", row->inputs);
    for (char *part; (part = strsep(&rest, "/")) != NULL && strata < 16; strata++) {
        char *second = strchr(part, 'v');
        if (second == NULL)
            return check_not_mine();
        *second++ = '\0';
        double *own = values + used;
        x[strata] = (Runs){check_numbers(part, own, MOST), own, NULL};
        used += x[strata].k;
        y[strata] = (Runs){check_numbers(second, values + used, MOST), values + used, NULL};
        used += y[strata].k;
        quantile_sort(own, x[strata].k);
        quantile_sort(values + used - y[strata].k, y[strata].k);
    }
    const RankStrata r = rank_van_elteren_runs(x, y, strata);
    return check_number(row->quantity[0] == 'p' ? r.two_sided : r.z);
}

static CheckAnswer hodges_lehmann(const CheckRow *row) {
    Samples s;
    if (!samples(row, &s))
        return check_not_mine();
    return check_part(row, shift_hodges_lehmann(s.x, s.nx, s.y, s.ny, check_confidence(row)));
}

// Groups by name, `1,2 / 3,4`, or the edges `one group`, `all values equal`.
static bool groups(const CheckRow *row, double *values, size_t *group, size_t *n, size_t *count) {
    char key[32];
    bool named = check_says(row->inputs, "mucociliary"), ozone = check_says(row->inputs, "Ozone");
    *n = 0;
    *count = ozone ? 5 : named ? 3 : check_says(row->inputs, "one group") ? 1 : 2;
    for (size_t g = 0; g < *count; g++) {
        size_t from = *n;
        snprintf(key, sizeof key, ozone ? "airquality ozone %zu" : "mucociliary %zu",
                 ozone ? g + 5 : g + 1);
        if (named || ozone) {
            *n += check_sample(key, values + *n, MOST - *n);
        } else {
            for (int i = 0; i < 4; i++)
                values[(*n)++] = check_says(row->inputs, "equal") ? 1 : i;
        }
        for (size_t i = from; i < *n; i++)
            group[i] = g;
    }
    return named || ozone || check_says(row->inputs, "group") || check_says(row->inputs, "equal");
}

static CheckAnswer kruskal_wallis(const CheckRow *row) {
    double values[MOST];
    size_t group[MOST], n, count;
    if (!groups(row, values, group, &n, &count))
        return check_not_mine();
    RankGroups t = rank_kruskal_wallis(values, group, n, count);
    if (strcmp(row->quantity, "df") == 0)
        return check_number(t.df);
    return check_number(row->quantity[0] == 'p' ? t.p : t.statistic);
}

static CheckAnswer kendall(const CheckRow *row) {
    double x[MOST], y[MOST], tau;
    size_t n = check_sample("tuna x", x, MOST);
    check_sample("tuna y", y, MOST);
    bool tied = check_says(row->inputs, "all values equal");
    bool tuna = check_says(row->inputs, "tuna");
    if (tied)
        for (n = 0; n < 8; n++)
            y[n] = 1;
    else if (!tuna)
        n = check_values(row->inputs, y, MOST);
    if (n == 0)
        return check_not_mine();
    RankTest t = rank_kendall(tuna ? x : NULL, y, n, method_of(row), &tau);
    if (check_says(row->quantity, "tau"))
        return check_number(tau);
    if (row->quantity[0] == 'p')
        return check_number(side_of(row, &t));
    return check_number(strcmp(row->quantity, "z") == 0 ? t.z : t.statistic);
}

const CheckMethod published_ranks[] = {
    {"Mann-Whitney / Hodges-Lehmann", mann_whitney},
    {"Mann-Whitney*", mann_whitney},
    {"van Elteren", van_elteren},
    {"Hodges-Lehmann*", hodges_lehmann},
    {"Kruskal-Wallis*", kruskal_wallis},
    {"*Kendall*", kendall},
    {NULL, NULL},
};
