// SPDX-License-Identifier: GPL-3.0-or-later
// Per cent as people read it: the one form in which every output writes it.
#ifndef CROSSWARD_BASE_PERCENT_H
#define CROSSWARD_BASE_PERCENT_H

// All take proportions (0.12 is 12 %); texts are to be freed with g_free.

// Decimals that suit a proportion, or a column whose largest it is: 12 %, 1.2 %, 0.12 %; 0 for 0.
int percent_decimals(double largest);

// The figure without its sign: "12", "?" where it is not finite. What is neither 0 nor 1 gets as
// many more decimals as it takes not to look so: "0.03", "99.96".
char *percent_bare(double proportion, int decimals);

// "12 %"
char *percent_text(double proportion, int decimals);

// Limits as they stand in brackets: "9 to 16"; where one is missing (NULL) "at least 9", "at most
// 16"; "no interval" where both are.
char *percent_limits(const char *lower, const char *upper);

// "12 % (9 to 16)"
char *percent_interval(double estimate, double lower, double upper, int decimals);

// Without needless zeros, to so many significant digits, and as many more as it takes that what is
// not all does not look so: "95 %", "99.9 %", "17.5 %", "99.9999 %".
char *percent_exact(double proportion, int digits);

#endif
