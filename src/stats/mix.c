// SPDX-License-Identifier: GPL-3.0-or-later
// Goodman's simultaneous limits: Wilson's at the level 1 - a/k.
#include "stats/mix.h"
#include "stats/proportion.h"

#include <math.h>

StatsInterval mix_goodman(double x, double n, int k, double confidence) {
    StatsInterval undefined = {NAN, NAN, NAN};
    if (k < 1 || !proportion_possible(x, n) || n == 0 || !(confidence > 0 && confidence < 1))
        return undefined;
    if (k == 1)
        return (StatsInterval){x / n, NAN, NAN};
    return proportion_wilson(x, n, 1 - (1 - confidence) / k);
}
