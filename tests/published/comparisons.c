// SPDX-License-Identifier: GPL-3.0-or-later
// Published values: comparisons.
#include "published.h"

const CheckMethod published_comparisons[] = {
    {NULL, NULL},
};
