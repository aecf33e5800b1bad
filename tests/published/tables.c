// SPDX-License-Identifier: GPL-3.0-or-later
// Published values: tables.
#include "published.h"

const CheckMethod published_tables[] = {
    {NULL, NULL},
};
