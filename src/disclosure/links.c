// SPDX-License-Identifier: GPL-3.0-or-later
// Finding equal series and sums.
#include "disclosure/links.h"

#include <string.h>

// Beyond these the search would take too long: classes whose pairs are added up, and members of a
// family whose subsets are.
enum { MOST_PAIRED = 6000, MOST_MEMBERS = 14 };

typedef struct {
    const SeriesTable *series;
    Links *links;
    GHashTable *by_sum;   // of a class -> the first with that sum + 1
    GArray *next;         // guint, by class: the next with the same sum + 1, or 0
    GHashTable *told;     // relations that are there already
    GHashTable *families; // key -> GArray of classes
} Work;

static guint64 scrambled(guint64 z) { // SplitMix64: Steele, Lea & Flood 2014
    z += 0x9e3779b97f4a7c15;
    z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9;
    z = (z ^ z >> 27) * 0x94d049bb133111eb;
    return z ^ z >> 31;
}

static LinkClass *class_at(const Work *w, guint c) {
    return &g_array_index(w->links->classes, LinkClass, c);
}

static guint first_with(const Work *w, guint64 sum) {
    return GPOINTER_TO_UINT(g_hash_table_lookup(w->by_sum, &sum));
}

// ---- equal series ----

static guint add_class(const Work *w, const Series *s, guint64 sum, bool zero) {
    const LinkClass c = {s->cells, s->value, sum, zero};
    const guint first = zero ? 0 : first_with(w, sum);
    g_array_append_val(w->links->classes, c);
    g_array_append_val(w->next, first);
    if (!zero)
        g_hash_table_insert(w->by_sum, g_memdup2(&sum, sizeof sum),
                            GUINT_TO_POINTER(w->links->classes->len));
    return w->links->classes->len - 1;
}

static guint class_for(const Work *w, const Series *s) {
    guint64 sum = 0;
    bool zero = true;
    for (guint k = 0; k < s->cells; k++)
        zero = zero && s->value[k] == 0;
    for (guint k = 0; k < w->series->narrow; k++)
        sum += scrambled(k) * s->value[k];
    for (guint c = zero ? 0 : first_with(w, sum); c; c = g_array_index(w->next, guint, c - 1)) {
        const LinkClass *like = class_at(w, c - 1);
        if (!memcmp(like->value, s->value, MIN(like->cells, s->cells) * sizeof *s->value))
            return c - 1;
    }
    return add_class(w, s, sum, zero);
}

// Wide ones first, so that narrow ones join them.
static void add_classes(const Work *w) {
    const GArray *list = w->series->list;
    for (int wide = 1; wide >= 0; wide--)
        for (guint i = 0; i < list->len; i++) {
            const Series *s = &g_array_index(list, Series, i);
            if ((s->by == FIELD_COUNT) == wide)
                w->links->class_of[i] = class_for(w, s);
        }
}

// ---- sums ----

// Whether the last of n classes is the sum of the others in all cells that they share.
static bool adds_up(const Work *w, const guint *of, guint n, guint cells) {
    for (guint k = 0; k < cells; k++) {
        uint64_t sum = 0;
        for (guint i = 0; i + 1 < n; i++)
            sum += class_at(w, of[i])->value[k];
        if (sum != class_at(w, of[n - 1])->value[k])
            return false;
    }
    return true;
}

// Adds a relation unless it is there, says nothing or does not hold; what is always 0 is left out
// of it.
static void add_relation(const Work *w, const guint *classes, guint n) {
    guint *of = g_new(guint, n), m = 0, cells = w->series->wide;
    guint64 name = 0;
    for (guint i = 0; i < n; i++) {
        const LinkClass *c = class_at(w, classes[i]);
        if (c->zero)
            continue;
        cells = MIN(cells, c->cells);
        name += scrambled(classes[i]) * (i + 1 < n ? 1 : 3);
        of[m++] = classes[i];
    }
    if (m > 1 && of[m - 1] == classes[n - 1] && !(m == 2 && of[0] == of[1]) &&
        !g_hash_table_contains(w->told, &name) && adds_up(w, of, m, cells)) {
        const LinkRelation r = {w->links->term->len, m, cells};
        g_array_append_vals(w->links->term, of, m);
        g_array_append_val(w->links->relation, r);
        g_hash_table_add(w->told, g_memdup2(&name, sizeof name));
    }
    g_free(of);
}

static guint class_like(const Work *w, const Series *s, SeriesCount count) {
    Series like = *s;
    like.count = count;
    like.part = 0;
    const guint found = series_find(w->series, &like);
    return found == SERIES_NONE ? SERIES_NONE : w->links->class_of[found];
}

// By definition: known + unknown = all, events + rest = known.
static void add_own(const Work *w, guint i) {
    const Series *s = &g_array_index(w->series->list, Series, i);
    const guint own = w->links->class_of[i], known = class_like(w, s, SERIES_KNOWN);
    if (s->count == SERIES_ALL)
        add_relation(w, (guint[]){known, class_like(w, s, SERIES_UNKNOWN), own}, 3);
    if (s->count == SERIES_REST)
        add_relation(w, (guint[]){class_like(w, s, SERIES_EVENTS), own, known}, 3);
}

// ---- families: parts of a mix, groups of a breakdown ----

static void join(const Work *w, guint64 key, guint member) {
    GArray *family = g_hash_table_lookup(w->families, &key);
    if (!family) {
        family = g_array_new(FALSE, FALSE, sizeof(guint));
        g_hash_table_insert(w->families, g_memdup2(&key, sizeof key), family);
    }
    g_array_append_val(family, member);
}

// A number of its own for each family: the parts of a mix, or the groups of a series by a field.
static guint64 family_of(const Series *s, bool parts) {
    return (guint64)s->indicator << 48 | (guint64)(parts ? s->group : s->part) << 32 |
           (guint64)s->by << 16 | (guint64)s->count << 8 | parts;
}

static bool is_mix(const Estimates *e, const Series *s) {
    return ((Indicator *)e->catalogue->pdata[s->indicator])->measure == MEASURE_MIX;
}

static void add_families(const Work *w, const Estimates *e) {
    for (guint i = 0; i < w->series->list->len; i++) {
        const Series *s = &g_array_index(w->series->list, Series, i);
        if (s->count == SERIES_EVENTS && is_mix(e, s))
            join(w, family_of(s, true), w->links->class_of[i]);
        if (s->by != FIELD_COUNT)
            join(w, family_of(s, false), w->links->class_of[i]);
    }
}

// The whole of a family comes last; then the family is as it was.
static void add_whole(const Work *w, guint64 key, guint whole) {
    GArray *family = g_hash_table_lookup(w->families, &key);
    if (!family || whole == SERIES_NONE)
        return;
    g_array_append_val(family, whole);
    add_relation(w, (const guint *)(void *)family->data, family->len);
    g_array_set_size(family, family->len - 1);
}

static void add_wholes(const Work *w, const Estimates *e) {
    for (guint i = 0; i < w->series->list->len; i++) {
        const Series *s = &g_array_index(w->series->list, Series, i);
        const Indicator *in = e->catalogue->pdata[s->indicator];
        if (s->count == SERIES_KNOWN && is_mix(e, s)) {
            Series parts = *s;
            parts.count = SERIES_EVENTS;
            add_whole(w, family_of(&parts, true), w->links->class_of[i]);
        }
        for (unsigned b = 0; s->by == FIELD_COUNT && b < in->n_by; b++) {
            Series groups = *s;
            groups.by = in->by[b];
            add_whole(w, family_of(&groups, false), w->links->class_of[i]);
        }
    }
}

// ---- sums that nobody defined ----

static void look_up(const Work *w, guint *of, guint n, guint64 sum) {
    for (guint c = first_with(w, sum); c; c = g_array_index(w->next, guint, c - 1)) {
        of[n] = c - 1;
        add_relation(w, of, n + 1);
    }
}

static void add_pairs(const Work *w) {
    const guint n = w->links->classes->len;
    for (guint i = 0; n <= MOST_PAIRED && i < n; i++)
        for (guint k = i; k < n; k++)
            if (!class_at(w, i)->zero && !class_at(w, k)->zero)
                look_up(w, (guint[3]){i, k}, 2, class_at(w, i)->sum + class_at(w, k)->sum);
}

// Sums of three members or more, but not of all.
static void add_subsets(const Work *w, const GArray *family) {
    guint member[MOST_MEMBERS], n = 0;
    for (guint i = 0; i < family->len; i++) {
        const guint c = g_array_index(family, guint, i);
        if (class_at(w, c)->zero)
            continue;
        if (n == MOST_MEMBERS)
            return;
        member[n++] = c;
    }
    for (guint set = 1; set + 1 < 1U << n; set++) {
        guint of[MOST_MEMBERS + 1], m = 0;
        guint64 sum = 0;
        for (guint i = 0; i < n; i++)
            if (set >> i & 1) {
                of[m++] = member[i];
                sum += class_at(w, member[i])->sum;
            }
        if (m > 2)
            look_up(w, of, m, sum);
    }
}

static gint by_key(gconstpointer a, gconstpointer b) {
    const guint64 x = *(const guint64 *)a, y = *(const guint64 *)b;
    return (x > y) - (x < y);
}

static void find_sums(const Work *w) {
    GList *keys = g_list_sort(g_hash_table_get_keys(w->families), by_key);
    add_pairs(w);
    for (const GList *at = keys; at; at = at->next)
        add_subsets(w, g_hash_table_lookup(w->families, at->data));
    g_list_free(keys);
}

static void free_family(gpointer family) {
    g_array_unref(family);
}

static GHashTable *table(GDestroyNotify free_value) {
    return g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, free_value);
}

Links *links_new(const Estimates *e, const SeriesTable *series) {
    Links *links = g_new(Links, 1);
    Work w = {series,      links,
              table(NULL), g_array_new(FALSE, FALSE, sizeof(guint)),
              table(NULL), table(free_family)};
    *links = (Links){
        g_new(guint, series->list->len + 1), g_array_new(FALSE, FALSE, sizeof(LinkClass)),
        g_array_new(FALSE, FALSE, sizeof(LinkRelation)), g_array_new(FALSE, FALSE, sizeof(guint))};
    add_classes(&w);
    add_families(&w, e);
    for (guint i = 0; i < series->list->len; i++)
        add_own(&w, i);
    add_wholes(&w, e);
    find_sums(&w);
    g_hash_table_unref(w.by_sum);
    g_hash_table_unref(w.told);
    g_hash_table_unref(w.families);
    g_array_unref(w.next);
    return links;
}

void links_free(Links *links) {
    g_free(links->class_of);
    g_array_unref(links->classes);
    g_array_unref(links->relation);
    g_array_unref(links->term);
    g_free(links);
}
