// SPDX-License-Identifier: GPL-3.0-or-later
// Units held against the value of their network: exact limits, over-dispersion, and how much of the
// difference between units is allowed for before one of them is called different.
#ifndef CROSSWARD_STATS_FUNNEL_H
#define CROSSWARD_STATS_FUNNEL_H

#include "stats/interval.h"

#include <stdbool.h>
#include <stddef.h>

// Values are proportions, or observed/expected with centre 1. Spiegelhalter 2005, Stat Med
// 24:1185-1202, unless another source is named. What can't be had is NaN.

// ---- one unit, chance alone ----

// Interpolated exact limits at the lower-tail probability p (0.025, 0.975, 0.001, 0.999): (r - a)/n
// with r the quantile of the count and a = (P(X <= r) - p) / P(X = r), not below 0 (appendix
// A.1.1). Binomial: limit for x/n about a centre 0..1. Poisson: limit for observed/expected. n = 0
// or nothing expected: NaN. Centre 0: 0;
// centre 1: 1.
double funnel_binomial_limit(double centre, double n, double p);
double funnel_poisson_limit(double expected, double p);

// 2 min(P(X <= x), P(X >= x)), at most 1. n = 0: NaN.
double funnel_binomial_p(double x, double n, double centre);
double funnel_poisson_p(double x, double expected);

// (value - centre) / sqrt(variance), variance taken at the centre; NaN unless variance > 0.
double funnel_z(double value, double centre, double variance);

// ---- over-dispersion of all units, textbook forms ----

// phi: mean of z squared over the n units whose z is not NaN; the Pearson form divides by n - 1.
// NaN for fewer than two: a lone unit is its own centre.
double funnel_phi(size_t n, const double *z);
double funnel_phi_pearson(size_t n, const double *z);

// Writes z (none NaN) winsorised: k = floor(share n) at each end take the value of the next one
// inwards. `out` has n places and keeps the order of z. Returns k, or n if memory runs out.
size_t funnel_winsorise(size_t n, const double *z, double share, double *out);

// max(0, (n phi - (n - 1)) / (sum w - sum w^2 / sum w)), w = 1/variance: the moment estimate of
// tau-squared about a target. NaN for fewer than two.
double funnel_tau2_moment(size_t n, const double *variance, double phi);

// ---- the allowance made when a unit is judged ----
//
// Units differ for reasons that no record holds, so a unit is held against what differs as usual:
// its p is the larger of the exact one and the normal one with variance s^2 + tau^2, s^2 being the
// variance of chance at the centre. How tau^2 is estimated decides what is found: with the judged
// unit in it a lone outlier hides itself, with only that unit left out two outliers hide each
// other, and an estimate from a dozen units is so uncertain that honest differences are flagged.
// Chosen by simulation (tests/simulation/funnel_sim.c), for the judged unit:
//
// 1. It is left out; m others remain. A forward search finds those that belong together: their
//    inner four fifths h = ceil(0.8 m) about the weighted median, then about their own weighted
//    mean until that settles; then outwards one by one while the next one's two-sided normal p
//    under the current mean and tau^2 is at least 0.001 (Atkinson, Riani & Cerioli 2010, J Korean
//    Stat Soc 39:117-134). Those that are nearer than this limit by 4/sqrt(m) of it go in together
//    (Billor, Hadi & Velleman 2000, Comput Stat Data Anal 34:279-298), which was never seen to make
//    a difference and takes a handful of steps for any m.
// 2. Their own tau^2 is the Paule-Mandel root for h units: weighted squares about their mean equal
//    (h - 1) c(h/m), with c(a) = 1 - 2 q phi(q) / a, q = the normal quantile of (1 + a)/2, the
//    mean square of a normal variable within +-q (Croux & Rousseeuw 1992, COMPSTAT 1:411-428).
// 3. It is moderated towards what is typical in the report: tau^2 = (1 + 6/(d + 10)) (d own + 10
//    typical) / (d + 10), d = h - 1, where typical is the median over the report's indicators of
//    the estimate of steps 1 and 2 with no unit left out, each relative to the variance of one
//    record (Smyth 2004, Stat Appl Genet Mol Biol 3:3, for moderation; the factor stands for the
//    estimate's own uncertainty, as Student's t does for a normal).

// The units of one indicator. variance[i] is that of value[i] by chance, at the centre; record is
// the variance of one record at the centre (centre (1 - centre) for shares; for observed/expected
// the mean variance of a record over its squared mean risk). Units whose variance is not positive
// (no records) or whose value is NaN take no part.
typedef struct {
    size_t n;
    const double *value, *variance;
    double record;
} FunnelUnits;

enum { FUNNEL_NOBODY = -1 };

// Steps 1 and 2 without unit `judged` (FUNNEL_NOBODY: all of them). *freedom, if not NULL, receives
// d = h - 1. NaN if fewer than two units remain or memory runs out.
double funnel_own_tau2(const FunnelUnits *units, long judged, double *freedom);

// Median of relative[i] = funnel_own_tau2(all units) / record over the report's n indicators, those
// that are NaN left aside; NaN if none is left or memory runs out.
double funnel_typical(size_t n, const double *relative);

// Step 3: the tau^2 that unit `judged` is held against. typical NaN: its own estimate stands for
// it. With one other unit only, what is typical alone counts. NaN if neither can be had.
double funnel_tau2(const FunnelUnits *units, long judged, double typical);

// tau^2 for the drawn band: Paule-Mandel over the units with flagged[i] false, moderated as above.
double funnel_band_tau2(const FunnelUnits *units, const bool *flagged, double typical);

// The larger of the exact p and the two-sided normal p with variance + tau2 (tau2 NaN: the exact).
double funnel_p(double exact, double value, double centre, double variance, double tau2);

// The wider of the exact limits and centre +- z sqrt(variance + tau2), cut to 0..highest (1 for
// shares, INFINITY for observed/expected); confidence two-sided, 0.95 or 0.998; tau2 NaN: exact.
StatsInterval funnel_limits(StatsInterval exact, double centre, double variance, double tau2,
                            double confidence, double highest);

// The same for a share of n records: exact binomial limits, cut to 0..1.
StatsInterval funnel_binomial_limits(double n, double centre, double tau2, double confidence);

#endif
