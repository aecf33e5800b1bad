// SPDX-License-Identifier: GPL-3.0-or-later
// Published values: coverage.
#include "published.h"

const CheckMethod published_coverage[] = {
    {NULL, NULL},
};
