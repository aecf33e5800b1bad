// SPDX-License-Identifier: GPL-3.0-or-later
// Settings of glibc's malloc.
#include "base/memory.h"

#include <stdlib.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif

void memory_keep_little(void) {
#ifdef __GLIBC__
    enum { LARGE = 256 << 10 }; // bytes
    mallopt(M_MMAP_THRESHOLD, LARGE);
#endif
}

void memory_give_back(void) {
#ifdef __GLIBC__
    malloc_trim(0);
#endif
}
