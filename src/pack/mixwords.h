// SPDX-License-Identifier: GPL-3.0-or-later
// Whether units differ in what they are made of, in words.
#ifndef CROSSWARD_PACK_MIXWORDS_H
#define CROSSWARD_PACK_MIXWORDS_H

#include "pack/source.h"

// One or two sentences about the units' mixes of an indicator: the chi-square's p, Cramer's V, and
// which part at which unit stands out: a standardised residual of 3 or more either way where 5 or
// more were expected (below that the residual is not about normal: Agresti 2002, 3.3.1). NULL
// where there is no such mix or fewer than two units. Free it.
char *mixwords_units(const Source *s, const Indicator *indicator);

#endif
