// SPDX-License-Identifier: GPL-3.0-or-later
// The least that an event simulation can do: heap REQUESTS TIMES sends that many requests through a
// binary heap, an arrival and an end each, so many times; no team, rule or figure. Prints seconds.
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

static int64_t heap[64];
static unsigned count;

static void push(int64_t key) {
    unsigned i = count++;
    for (; i > 0 && heap[(i - 1) / 2] > key; i = (i - 1) / 2)
        heap[i] = heap[(i - 1) / 2];
    heap[i] = key;
}

static int64_t pop(void) {
    const int64_t least = heap[0], last = heap[--count];
    unsigned i = 0;
    for (unsigned child = 1; child < count; child = 2 * i + 1) {
        if (child + 1 < count && heap[child + 1] < heap[child])
            child++;
        if (heap[child] >= last)
            break;
        heap[i] = heap[child];
        i = child;
    }
    heap[i] = last;
    return least;
}

int main(int argc, char **argv) {
    const long requests = argc > 2 ? atol(argv[1]) : 6000, times = argc > 2 ? atol(argv[2]) : 9000;
    int64_t *at = malloc((size_t)requests * sizeof *at), sum = 0;
    uint64_t state = 1;
    for (long i = 0, now = 0; at && i < requests; i++) {
        state = state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
        at[i] = now += (long)(state >> 33) % 350;
    }
    const clock_t start = clock();
    for (long run = 0; at && run < times; run++) {
        long next = 0;
        count = 0;
        push(at[0] * 2);
        while (count > 0) {
            const int64_t key = pop();
            sum += key;
            if (key & 1)
                continue; // an end
            if (count < 9)
                push((key / 2 + 300 + key % 97) * 2 + 1);
            if (++next < requests)
                push(at[next] * 2);
        }
    }
    fprintf(stderr, "%lld\n", (long long)sum); // so that none of it is left out
    printf("%.4f\n", (double)(clock() - start) / CLOCKS_PER_SEC);
    free(at);
    return 0;
}
