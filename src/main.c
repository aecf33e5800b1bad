// SPDX-License-Identifier: GPL-3.0-or-later
// The command table and nothing else.
#include <stdio.h>

int main(void) {
    return 2;
}
