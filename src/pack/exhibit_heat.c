// SPDX-License-Identifier: GPL-3.0-or-later
// What fills the heat tables of a report.
#include "pack/exhibit_heat.h"

#include "measure/crosstab.h"
#include "pack/heat.h"

#include <math.h>
#include <string.h>

enum { MOST_NAMED = 7 };      // columns that have room for names, not codes
enum { MOST_RECEIVERS = 14 }; // columns of the flow matrix; the rest stand together

// ---- flow ----

typedef struct {
    const Source *s;
    const Crosstab *n;
    GArray *senders, *receivers; // uint16_t units; receivers by number of patients, greatest first
} Flow;

static uint64_t arrivals(const Flow *f, uint16_t receiver) {
    uint64_t sum = 0;
    for (guint u = 0; u < f->senders->len; u++)
        sum += crosstab_at(f->n, g_array_index(f->senders, uint16_t, u), receiver);
    return sum;
}

static int by_arrivals(gconstpointer a, gconstpointer b, gpointer flow) {
    const uint16_t x = *(const uint16_t *)a, y = *(const uint16_t *)b;
    const uint64_t nx = arrivals(flow, x), ny = arrivals(flow, y);
    if (nx != ny)
        return nx > ny ? -1 : 1;
    return strcmp(((Flow *)flow)->s->e->t->units->pdata[x],
                  ((Flow *)flow)->s->e->t->units->pdata[y]);
}

static void find_ends(Flow *f) {
    const GArray *units = f->s->e->units;
    f->senders = g_array_new(FALSE, FALSE, sizeof(uint16_t));
    f->receivers = g_array_new(FALSE, FALSE, sizeof(uint16_t));
    for (guint u = 1; u < units->len; u++) {
        const uint16_t unit = g_array_index(units, uint16_t, u);
        if (!f->s->focus || unit == f->s->focus)
            g_array_append_val(f->senders, unit);
    }
    for (unsigned r = 1; r < f->n->columns; r++) {
        const uint16_t unit = (uint16_t)r;
        if (arrivals(f, unit) > 0)
            g_array_append_val(f->receivers, unit);
    }
    g_array_sort_with_data(f->receivers, by_arrivals, f);
}

// Patients of a sender that went to the receiver at that column; the column after the last receiver
// (of those that have one) holds all others and the unknown.
static uint64_t flow_at(const Flow *f, guint sender, guint column) {
    const uint16_t from = g_array_index(f->senders, uint16_t, sender);
    if (column < f->receivers->len && column < MOST_RECEIVERS)
        return crosstab_at(f->n, from, g_array_index(f->receivers, uint16_t, column));
    uint64_t rest = crosstab_at(f->n, from, 0);
    for (guint r = MOST_RECEIVERS; r < f->receivers->len; r++)
        rest += crosstab_at(f->n, from, g_array_index(f->receivers, uint16_t, r));
    return rest;
}

static Sheet *flow_sheet(const Flow *f) {
    Sheet *sheet = sheet_new("Departures by sending and receiving unit");
    sheet_column(sheet, "From", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "To", SHEET_TEXT, WORDS_COUNT);
    sheet_column(sheet, "Departures", SHEET_NUMBER, WORDS_COUNT);
    for (guint u = 0; u < f->senders->len; u++) {
        const uint16_t from = g_array_index(f->senders, uint16_t, u);
        for (guint r = 0; r <= f->receivers->len; r++) {
            const uint16_t to =
                r < f->receivers->len ? g_array_index(f->receivers, uint16_t, r) : 0;
            if (crosstab_at(f->n, from, to) == 0)
                continue;
            sheet_text(sheet, words_unit_name(f->s->e, f->s->network, from));
            sheet_text(sheet, to ? words_unit_name(f->s->e, f->s->network, to) : "not known");
            sheet_number(sheet, (double)crosstab_at(f->n, from, to));
        }
    }
    return sheet;
}

// Whether the last column would hold anybody.
static bool any_others(const Flow *f, guint named) {
    uint64_t n = 0;
    for (guint u = 0; u < f->senders->len; u++)
        n += flow_at(f, u, named);
    return n > 0;
}

static uint16_t receiver_at(const Flow *f, guint column) {
    return g_array_index(f->receivers, uint16_t, column);
}

static Chart *flow_chart(const Flow *f) {
    const guint named = MIN(f->receivers->len, MOST_RECEIVERS),
                columns = named + any_others(f, named);
    Heat *h = heat_new(f->senders->len, columns);
    uint64_t most = 1, all = 0, first = 0;
    for (guint u = 0; u < h->rows; u++)
        for (guint k = 0; k < columns; k++) {
            most = MAX(most, flow_at(f, u, k));
            all += flow_at(f, u, k);
        }
    for (guint u = 0; u < h->rows; u++) {
        h->row_names[u] = g_strdup(
            words_unit_name(f->s->e, f->s->network, g_array_index(f->senders, uint16_t, u)));
        for (guint k = 0; k < columns; k++) {
            const uint64_t n = flow_at(f, u, k);
            heat_set(h, u, k, sqrt((double)n / (double)most),
                     n ? words_figure(WORDS_COUNT, (double)n, 0) : NULL);
        }
    }
    for (guint k = 0; k < named; k++)
        h->column_names[k] = g_strdup(
            columns > MOST_NAMED ? words_unit_code(f->s->e, receiver_at(f, k))
                                 : words_unit_name(f->s->e, f->s->network, receiver_at(f, k)));
    if (columns > named)
        h->column_names[named] = g_strdup("others");
    first = arrivals(f, g_array_index(f->receivers, uint16_t, 0));
    char *share = words_figure(WORDS_PERCENT, (double)first / (double)all, 0);
    char *title = g_strdup_printf(
        "%s took the most patients: %s of the departures",
        words_unit_name(f->s->e, f->s->network, g_array_index(f->receivers, uint16_t, 0)), share);
    Chart *c = heat_chart(h, title,
                          "Rows: the unit that patients left. Columns: the unit that they went to, "
                          "busiest first.");
    c->finding = g_strdup_printf("Table of departures by sending and receiving unit. %s.", title);
    g_free(title);
    g_free(share);
    heat_free(h);
    return c;
}

Exhibit *exhibit_heat_flow(const Source *s, const ExhibitKind *kind) {
    Flow f = {s, s->counts->flow, NULL, NULL};
    find_ends(&f);
    Exhibit *x = NULL;
    if (f.senders->len > 0 && f.receivers->len > 0)
        x = exhibit_new(kind, s->charts ? flow_chart(&f) : NULL, flow_sheet(&f));
    g_array_unref(f.senders);
    g_array_unref(f.receivers);
    return x;
}

// ---- hours of the week ----

// Departures by weekday (0 = Monday) and hour, of the network or the unit in focus.
static uint64_t hours_of(const Source *s, uint64_t n[7][24]) {
    const Transfers *t = s->e->t;
    uint64_t all = 0;
    memset(n, 0, 7 * sizeof n[0]);
    for (size_t i = 0; i < t->n; i++) {
        const uint8_t day = transfers_codes(t, FIELD_departed_weekday)[i];
        const uint8_t hour = transfers_codes(t, FIELD_departed_hour)[i];
        if (day == 0 || (s->counts->in && !s->counts->in[i]) ||
            transfers_codes(t, FIELD_departed)[i] != CODE_yes_no_YES ||
            (s->focus && transfers_units(t, FIELD_sending_unit)[i] != s->focus))
            continue;
        n[day - 1][hour - 1]++;
        all++;
    }
    return all;
}

static char *weekday_name(unsigned day) {
    char *name = g_strdup(field_code_text(field_table[FIELD_departed_weekday].codes, day + 1));
    name[0] = g_ascii_toupper(name[0]);
    return name;
}

static Sheet *hours_sheet(uint64_t n[7][24]) {
    Sheet *sheet = sheet_new("Departures by weekday and hour");
    sheet_column(sheet, "Weekday", SHEET_TEXT, WORDS_COUNT);
    for (unsigned h = 0; h < 24; h++) {
        char *hour = g_strdup_printf("%02u", h);
        sheet_column(sheet, hour, SHEET_NUMBER, WORDS_COUNT);
        g_free(hour);
    }
    for (unsigned d = 0; d < 7; d++) {
        char *name = weekday_name(d);
        sheet_text(sheet, name);
        g_free(name);
        for (unsigned h = 0; h < 24; h++)
            sheet_number(sheet, (double)n[d][h]);
    }
    return sheet;
}

static Chart *hours_chart(const Source *s, uint64_t n[7][24]) {
    Heat *heat = heat_new(7, 24);
    uint64_t most = 1, by_hour[24] = {0};
    unsigned busiest = 0;
    for (unsigned d = 0; d < 7; d++)
        for (unsigned h = 0; h < 24; h++)
            most = MAX(most, n[d][h]), by_hour[h] += n[d][h];
    for (unsigned h = 0; h < 24; h++) {
        busiest = by_hour[h] > by_hour[busiest] ? h : busiest;
        heat->column_names[h] = g_strdup_printf("%02u", h);
    }
    heat->row_height = 20;
    heat->text_size = 12;
    for (unsigned d = 0; d < 7; d++) {
        heat->row_names[d] = weekday_name(d);
        for (unsigned h = 0; h < 24; h++)
            heat_set(heat, d, h, (double)n[d][h] / (double)most,
                     n[d][h] ? g_strdup_printf("%" G_GUINT64_FORMAT, n[d][h]) : NULL);
    }
    LookupKey key = lookup_key("out_of_hours_share");
    key.unit = s->focus;
    const Estimate *late = lookup_row(s->lookup, &key);
    char *share = late ? words_estimate(s->e, late) : NULL;
    char *title = g_strdup_printf("%s%sthe busiest hour was %02u:00 to %02u:00", share ? share : "",
                                  share ? " left out of hours; " : "", busiest, (busiest + 1) % 24);
    title[0] = g_ascii_toupper(title[0]);
    Chart *c = heat_chart(heat, title,
                          "Departures by weekday and local hour, the whole period added up; "
                          "the darker the cell, the more.");
    c->finding = g_strdup_printf("Table of departures by weekday and hour. %s.", title);
    g_free(title);
    g_free(share);
    heat_free(heat);
    return c;
}

Exhibit *exhibit_heat_hours(const Source *s, const ExhibitKind *kind) {
    uint64_t n[7][24];
    const uint64_t all = hours_of(s, n);
    if (all == 0)
        return NULL;
    return exhibit_new(kind, s->charts ? hours_chart(s, n) : NULL, hours_sheet(n));
}

// ---- completeness ----

typedef struct {
    const Source *s;
    const Crosstab *asked, *known;
    GArray *fields; // int, those that some log carries
    GArray *units;  // uint16_t
} Completeness;

static double known_share(const Completeness *c, guint field, guint unit) {
    const unsigned f = (unsigned)g_array_index(c->fields, int, field);
    const uint16_t u = g_array_index(c->units, uint16_t, unit);
    const uint64_t asked = crosstab_at(c->asked, u, f);
    return asked ? (double)crosstab_at(c->known, u, f) / (double)asked : (double)NAN;
}

static void find_fields(Completeness *c) {
    c->fields = g_array_new(FALSE, FALSE, sizeof(int));
    c->units = g_array_new(FALSE, FALSE, sizeof(uint16_t));
    for (int f = 0; f < FIELD_STORED; f++)
        if (crosstab_at(c->known, 0, (unsigned)f) > 0 && field_table[f].need != NEED_REQUIRED)
            g_array_append_val(c->fields, f);
    for (guint u = 0; u < c->s->e->units->len; u++) {
        const uint16_t unit = g_array_index(c->s->e->units, uint16_t, u);
        if (!c->s->focus || unit == 0 || unit == c->s->focus)
            g_array_append_val(c->units, unit);
    }
}

static Sheet *completeness_sheet(const Completeness *c) {
    Sheet *sheet = sheet_new("Share of the records in which a field is known");
    sheet_column(sheet, "Field", SHEET_TEXT, WORDS_COUNT);
    for (guint u = 0; u < c->units->len; u++) {
        const uint16_t unit = g_array_index(c->units, uint16_t, u);
        sheet_column(sheet, unit ? words_unit_code(c->s->e, unit) : "all", SHEET_NUMBER,
                     WORDS_PERCENT);
    }
    for (guint f = 0; f < c->fields->len; f++) {
        char *name = words_field((FieldId)g_array_index(c->fields, int, f));
        sheet_text(sheet, name);
        g_free(name);
        for (guint u = 0; u < c->units->len; u++)
            sheet_number(sheet, known_share(c, f, u));
    }
    return sheet;
}

static char *completeness_title(const Completeness *c) {
    guint least = 0;
    for (guint f = 1; f < c->fields->len; f++)
        if (known_share(c, f, 0) < known_share(c, least, 0))
            least = f;
    char *name = words_field((FieldId)g_array_index(c->fields, int, least));
    char *share = words_figure(WORDS_PERCENT, floor(100 * known_share(c, least, 0)) / 100, 0);
    char *title = g_strdup_printf("Least often written down: %s, known for %s", name, share);
    g_free(name);
    g_free(share);
    return title;
}

static Chart *completeness_chart(const Completeness *c) {
    Heat *h = heat_new(c->fields->len, c->units->len);
    h->row_height = 17;
    for (guint u = 0; u < c->units->len; u++) {
        const uint16_t unit = g_array_index(c->units, uint16_t, u);
        h->column_names[u] = g_strdup(unit ? words_unit_code(c->s->e, unit) : "all");
    }
    for (guint f = 0; f < c->fields->len; f++) {
        h->row_names[f] = words_field((FieldId)g_array_index(c->fields, int, f));
        for (guint u = 0; u < c->units->len; u++) {
            const double known = known_share(c, f, u);
            // 99.7 % is not written 100
            heat_set(h, f, u, 1 - known,
                     isnan(known) ? NULL
                                  : g_strdup_printf("%.0f", known < 1 ? floor(100 * known) : 100));
        }
    }
    char *title = completeness_title(c);
    Chart *chart =
        heat_chart(h, title,
                   "Per cent of the records that could carry the field in which it is "
                   "known, cut to whole numbers; the darker the cell, the more is missing.");
    chart->finding = g_strdup_printf("Table of completeness by field and unit. %s.", title);
    g_free(title);
    heat_free(h);
    return chart;
}

Exhibit *exhibit_heat_completeness(const Source *s, const ExhibitKind *kind) {
    Completeness c = {.s = s, .asked = s->counts->asked, .known = s->counts->known};
    find_fields(&c);
    Exhibit *x = NULL;
    if (c.fields->len > 0)
        x = exhibit_new(kind, s->charts && c.units->len <= 30 ? completeness_chart(&c) : NULL,
                        completeness_sheet(&c));
    g_array_unref(c.fields);
    g_array_unref(c.units);
    return x;
}
