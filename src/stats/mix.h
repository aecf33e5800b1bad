// SPDX-License-Identifier: GPL-3.0-or-later
// Simultaneous limits for the shares of a whole that falls into k classes.
#ifndef CROSSWARD_STATS_MIX_H
#define CROSSWARD_STATS_MIX_H

#include "stats/interval.h"

// One cell's share x/n with limits that hold for all k classes at once: the score interval at
// chi2_1(1 - a/k); Goodman 1965, Technometrics 7:247-254. x: count in the cell, n: total,
// k: number of classes, empty ones included. Proportions. n = 0: all NaN. k = 1: the share (1)
// without limits (NaN).
StatsInterval mix_goodman(double x, double n, int k, double confidence);

#endif
