// SPDX-License-Identifier: GPL-3.0-or-later
// Settings of glibc's malloc.
#include "base/memory.h"

#include <stdlib.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif

void memory_keep_little(void) {
#ifdef __GLIBC__
    enum { LARGE = 256 << 10, FREE_ON_TOP = 1 << 20, AT_ONCE = 4 << 20 }; // bytes
    mallopt(M_MMAP_THRESHOLD, LARGE);
    mallopt(M_TRIM_THRESHOLD, FREE_ON_TOP); // else 128 KiB, so that it is given back time and again
    mallopt(M_TOP_PAD, AT_ONCE);            // what is taken anew must be zeroed, page by page
#endif
}

void memory_give_back(void) {
#ifdef __GLIBC__
    malloc_trim(0);
#endif
}
