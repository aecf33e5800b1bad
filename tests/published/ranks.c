// SPDX-License-Identifier: GPL-3.0-or-later
// Published values: ranks.
#include "published.h"

const CheckMethod published_ranks[] = {
    {NULL, NULL},
};
