// SPDX-License-Identifier: GPL-3.0-or-later
// Servers under random load: the share of calls lost, the share that wait, and how long.
#ifndef CROSSWARD_STATS_ERLANG_H
#define CROSSWARD_STATS_ERLANG_H

// Poisson arrivals; load = arrival rate times mean service time, in erlangs, >= 0; servers a whole
// number >= 0. Results are proportions unless said otherwise. An impossible argument: NaN.

// Share lost when no call waits; Erlang 1917, by the recursion B_k = load B/(k + load B), B_0 = 1
// (Jagerman 1974, Bell Syst Tech J 53:525-551). Holds for any distribution of service times.
double erlang_b(double servers, double load);

// Share that waits when every call does, exponential service; N B/(N - load (1 - B)). 1 when load
// reaches the servers (the queue then grows for ever); 0 at load 0, 1 without servers otherwise.
double erlang_c(double servers, double load);

// Mean number waiting, and mean wait in the unit of service_time (a mean); +Inf when load reaches
// the servers. Gross & Harris 1998, Fundamentals of Queueing Theory, 2.3.
double erlang_queue(double servers, double load);
double erlang_wait(double servers, double load, double service_time);

// Share lost of a queue with room for `places` calls in all (M/M/servers/places, places >=
// servers); Gross & Harris 1998, 2.5.
double erlang_loss_with_queue(double servers, double places, double load);

// Load at which the share lost is b, 0 < b < 1 (servers >= 1).
double erlang_load(double servers, double b);

// Fewest servers that lose less than b, 0 < b <= 1.
double erlang_servers(double load, double b);

#endif
