// SPDX-License-Identifier: GPL-3.0-or-later
// Published values: lists.
#include "published.h"

const CheckMethod published_lists[] = {
    {NULL, NULL},
};
