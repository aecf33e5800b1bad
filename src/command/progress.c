// SPDX-License-Identifier: GPL-3.0-or-later
// The bar, and the time that is left if the rest goes as fast as what is done.
#include "command/progress.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { WIDTH = 24 };
#define PAUSE (G_USEC_PER_SEC / 5) // between two drawings

struct Progress {
    bool shown;
    const char *stage, *unit;
    guint total;
    double part;         // done of the stage, beyond what the steps say
    guint64 rows;        // read so far; 0: not said
    gint64 since, drawn; // microseconds
};

Progress *progress_new(bool wanted) {
    Progress *p = g_new0(Progress, 1);
    p->shown = wanted && isatty(STDERR_FILENO);
    return p;
}

void progress_clear(const Progress *p) {
    if (p->shown && p->stage)
        fputs("\r\033[K", stderr);
}

void progress_free(Progress *p) {
    progress_clear(p);
    g_free(p);
}

// "1,234" of a number.
static char *grouped(guint64 n) {
    char *plain = g_strdup_printf("%" G_GUINT64_FORMAT, n);
    GString *out = g_string_new(NULL);
    const size_t length = strlen(plain);
    for (size_t i = 0; i < length; i++)
        g_string_append_printf(out, "%s%c", i > 0 && (length - i) % 3 == 0 ? "," : "", plain[i]);
    g_free(plain);
    return g_string_free(out, FALSE);
}

static void draw(Progress *p, guint done) {
    const gint64 now = g_get_monotonic_time(), spent = now - p->since;
    char bar[WIDTH + 1];
    const double part = MAX(p->part, p->total ? (double)done / p->total : 0);
    const guint full = (guint)(MIN(part, 1) * WIDTH);
    for (guint i = 0; i < WIDTH; i++)
        bar[i] = i < full ? '#' : '.';
    bar[WIDTH] = 0;
    fprintf(stderr, "\r\033[K%-16s [%s]", p->stage, bar);
    if (p->total > 0)
        fprintf(stderr, " %u of %u %s", done, p->total, p->unit);
    if (p->rows > 0) {
        char *rows = grouped(p->rows);
        fprintf(stderr, ", %s rows", rows);
        g_free(rows);
    }
    if (part > 0 && part < 1 && spent > G_USEC_PER_SEC)
        fprintf(stderr, ", %d s left",
                (int)((double)spent / part * (1 - part) / G_USEC_PER_SEC) + 1);
    fflush(stderr);
    p->drawn = now;
}

void progress_stage(Progress *p, const char *stage, guint total, const char *unit) {
    if (!p->shown)
        return;
    p->stage = stage;
    p->unit = unit;
    p->total = total;
    p->part = 0;
    p->rows = 0;
    p->since = g_get_monotonic_time();
    draw(p, 0);
}

static void done_so_far(Progress *p, guint done) {
    if (p->shown && p->stage && g_get_monotonic_time() - p->drawn > PAUSE)
        draw(p, done);
}

void progress_part(Progress *p, guint done, double part, guint64 rows) {
    p->part = MAX(p->part, part);
    p->rows = rows;
    done_so_far(p, done);
}

void progress_tick(void *user, guint done, guint total) {
    Progress *p = user;
    p->total = total;
    done_so_far(p, done);
}
