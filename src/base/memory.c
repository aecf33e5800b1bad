// SPDX-License-Identifier: GPL-3.0-or-later
// Settings of glibc's malloc.
#include "base/memory.h"

#include <stdlib.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif

void memory_keep_little(void) {
#ifdef __GLIBC__
    enum { LARGE = 256 << 10, FREE_ON_TOP = 1 << 20 }; // bytes
    mallopt(M_MMAP_THRESHOLD, LARGE);
    mallopt(M_TRIM_THRESHOLD, FREE_ON_TOP); // else 128 KiB, so that it is given back time and again
#endif
}

void memory_give_back(void) {
#ifdef __GLIBC__
    malloc_trim(0);
#endif
}
