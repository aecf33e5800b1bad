// SPDX-License-Identifier: GPL-3.0-or-later
// Units by parts of a mix, in words.
#include "pack/mixwords.h"

#include "pack/words.h"

#include <math.h>

enum { MOST_NAMED = 3, FEWEST_EXPECTED = 5, STANDS_OUT = 3 };

static const Mixunits *mix_of(const Source *s, const Indicator *in) {
    for (guint i = 0; s->mixes && i < s->mixes->len; i++) {
        const Mixunits *m = s->mixes->pdata[i];
        if (s->e->catalogue->pdata[m->indicator] == in && isfinite(m->test.p))
            return m;
    }
    return NULL;
}

static void append_cell(GString *out, const Source *s, const Indicator *in, const MixunitsCell *x) {
    char *part = words_group(s->e, s->network, in->field, x->part),
         *expected = words_figure(WORDS_RATE, x->expected, 1),
         *residual = words_figure(WORDS_RATE, fabs(x->residual), 1);
    g_string_append_printf(out, "%s at %s (%.0f of %.0f, %s expected, residual %s%s)", part,
                           words_unit_name(s->e, s->network, x->unit), x->events, x->total,
                           expected, x->residual < 0 ? "−" : "", residual);
    g_free(part);
    g_free(expected);
    g_free(residual);
}

char *mixwords_units(const Source *s, const Indicator *in) {
    const Mixunits *m = mix_of(s, in);
    if (!m)
        return NULL;
    char *v = words_figure(WORDS_RATE, m->test.cramer_v, 2),
         *p = m->test.p < 0.001 ? g_strdup("p < 0.001") : g_strdup_printf("p = %.3f", m->test.p);
    GString *out = g_string_new(NULL);
    g_string_append_printf(out, "By unit: Cramer's V %s (0 alike, 1 wholly apart), chi-square %s%s",
                           v, p, m->test.smallest < FEWEST_EXPECTED ? ", some counts small" : "");
    guint named = 0;
    for (guint k = 0; k < m->cells->len && named < MOST_NAMED; k++) {
        const MixunitsCell *x = &g_array_index(m->cells, MixunitsCell, k);
        if (x->expected < FEWEST_EXPECTED || fabs(x->residual) < STANDS_OUT)
            continue;
        g_string_append(out, named++ ? "; " : "; most apart: ");
        append_cell(out, s, in, x);
    }
    g_string_append(out, named ? "." : "; nothing at any unit stands out.");
    g_free(v);
    g_free(p);
    return g_string_free(out, FALSE);
}
