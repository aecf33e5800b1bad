// SPDX-License-Identifier: GPL-3.0-or-later
// Erlang's loss and delay formulas.
#include "stats/erlang.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

static bool possible(double servers, double load) {
    return servers >= 0 && servers <= 1e7 && floor(servers) == servers && load >= 0 &&
           isfinite(load);
}

double erlang_b(double servers, double load) {
    if (!possible(servers, load))
        return NAN;
    double b = 1;
    for (size_t k = 1; k <= (size_t)servers; k++)
        b = load * b / ((double)k + load * b);
    return b;
}

double erlang_c(double servers, double load) {
    if (!possible(servers, load))
        return NAN;
    if (load == 0)
        return 0;
    if (load >= servers)
        return 1;
    const double b = erlang_b(servers, load);
    return servers * b / (servers - load * (1 - b));
}

double erlang_queue(double servers, double load) {
    const double waits = erlang_c(servers, load);
    if (isnan(waits) || load == 0)
        return waits;
    return load >= servers ? INFINITY : waits * load / (servers - load);
}

double erlang_wait(double servers, double load, double service_time) {
    const double waits = erlang_c(servers, load);
    if (isnan(waits) || !(service_time >= 0) || load == 0)
        return service_time >= 0 ? waits : NAN;
    return load >= servers ? INFINITY : waits * service_time / (servers - load);
}

// Each place behind the servers: P_k = P_(k-1) load/servers, and the whole is scaled to 1 again.
double erlang_loss_with_queue(double servers, double places, double load) {
    if (!possible(servers, load) || !possible(places, load) || places < servers)
        return NAN;
    if (servers == 0)
        return 1;
    double last = erlang_b(servers, load);
    for (size_t k = (size_t)servers; k < (size_t)places; k++) {
        const double next = last * load / servers;
        last = next / (1 + next);
    }
    return last;
}

double erlang_load(double servers, double b) {
    if (!possible(servers, 0) || servers < 1 || !(b > 0 && b < 1))
        return NAN;
    double low = 0, high = servers;
    while (erlang_b(servers, high) < b)
        high *= 2;
    for (int i = 0; i < 200 && high - low > 1e-15 * high; i++) {
        const double middle = (low + high) / 2;
        if (erlang_b(servers, middle) < b)
            low = middle;
        else
            high = middle;
    }
    return (low + high) / 2;
}

double erlang_servers(double load, double b) {
    if (!possible(0, load) || !(b > 0 && b <= 1))
        return NAN;
    double lost = 1, servers = 0;
    while (lost >= b && servers < 1e7) {
        servers++;
        lost = load * lost / (servers + load * lost);
    }
    return servers;
}
