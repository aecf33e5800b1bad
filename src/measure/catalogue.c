// SPDX-License-Identifier: GPL-3.0-or-later
// Reading indicators.csv.
#include "measure/catalogue.h"

#include "base/csvtable.h"
#include "base/embed.h"

#include <math.h>
#include <string.h>

static const char *const columns[] = {"indicator", "title",  "measure", "events", "among", "per",
                                      "by",        "better", "compare", "note",   NULL};
static const char *const measures[] = {"share", "rate",  "quantile", "mix",
                                       "count", "hours", "overlap"};

static void free_indicator(gpointer data) {
    Indicator *i = data;
    g_free(i->name);
    g_free(i->title);
    g_free(i->note);
    g_free(i->better);
    g_free(i->compare);
    condition_free(i->events);
    condition_free(i->among);
    condition_free(i->judged);
    g_free(i->among_text);
    g_free(i->events_text);
    g_free(i->scale);
    g_free(i);
}

static bool wrong(GError **error, const char *word, const char *why) {
    g_set_error(error, NETWORK_ERROR, NETWORK_ERROR_USAGE, "'%s': %s", word, why);
    return false;
}

static bool read_duration(Indicator *i, const char *text, GError **error) {
    char **ends = g_strsplit(text, "..", 2);
    bool good = ends[0] && ends[1];
    if (good) {
        i->from = field_find(ends[0], strlen(ends[0]));
        i->to = field_find(ends[1], strlen(ends[1]));
        good = i->from < FIELD_STORED && i->to < FIELD_STORED &&
               field_table[i->from].kind == KIND_TIME && field_table[i->to].kind == KIND_TIME;
    }
    g_strfreev(ends);
    return good || wrong(error, text, "a duration is written from..to with two time fields");
}

static bool read_per(Indicator *i, const char *text, GError **error) {
    char *end;
    i->per = g_ascii_strtod(text, &end);
    if (end == text || !(i->per > 0 && isfinite(i->per)) || *end != ' ')
        return wrong(error, text,
                     "per is written as a number and an exposure, for example 100 transfers");
    const char *word = end + 1;
    const int figure = (int)(end - text);
    if (!strcmp(word, "transfers"))
        i->exposure = EXPOSURE_TRANSFERS,
        i->scale = g_strdup_printf("per %.*s transfers", figure, text);
    else if (!strcmp(word, "distance_km"))
        i->exposure = EXPOSURE_KM, i->scale = g_strdup_printf("per %.*s km", figure, text);
    else if (!strcmp(word, "week") || !strcmp(word, "weeks")) {
        i->exposure = EXPOSURE_WEEKS;
        i->scale =
            i->per == 1 ? g_strdup("per week") : g_strdup_printf("per %.*s weeks", figure, text);
    } else if (g_str_has_prefix(word, "hours ")) {
        i->exposure = EXPOSURE_HOURS, i->scale = g_strdup_printf("per %.*s hours", figure, text);
        return read_duration(i, word + 6, error);
    } else
        return wrong(error, word, "no such exposure: transfers, hours from..to, distance_km, week");
    return true;
}

static bool has_by(const Indicator *i, FieldId f) {
    for (unsigned k = 0; k < i->n_by; k++)
        if (i->by[k] == f)
            return true;
    return false;
}

static bool read_by(Indicator *i, const char *text, GError **error) {
    char **words = g_strsplit(text, "|", -1);
    bool good = true;
    for (char **w = words; good && *w && **w; w++) {
        g_strstrip(*w);
        const FieldId f = field_find(*w, strlen(*w));
        good = f < FIELD_COUNT && !has_by(i, f) && i->n_by < CATALOGUE_MOST_BY &&
               (field_table[f].kind == KIND_CODE || field_table[f].kind == KIND_UNIT);
        if (good)
            i->by[i->n_by++] = f;
        else
            wrong(error, *w, "no field to break down by, or named twice");
    }
    g_strfreev(words);
    return good;
}

static bool read_mix(Indicator *i, const char *text, GError **error) {
    i->field = !strcmp(text, "event") ? FIELD_events : field_find(text, strlen(text));
    return (i->field < FIELD_COUNT &&
            (i->field == FIELD_events || field_table[i->field].kind == KIND_CODE ||
             field_table[i->field].kind == KIND_UNIT)) ||
           wrong(error, text, "no field with codes");
}

static bool read_measure(Indicator *i, const char *word, const char *events, const char *per,
                         GError **error) {
    size_t m = 0;
    while (m < G_N_ELEMENTS(measures) && strcmp(measures[m], word) != 0)
        m++;
    if (m == G_N_ELEMENTS(measures))
        return wrong(error, word, "no such measure");
    i->measure = (Measure)m;
    i->scale = i->measure == MEASURE_RATE
                   ? NULL
                   : g_strdup(i->measure == MEASURE_COUNT      ? "count"
                              : i->measure == MEASURE_HOURS    ? "hours"
                              : i->measure == MEASURE_QUANTILE ? "minutes"
                                                               : "proportion");
    if (i->measure == MEASURE_MIX)
        return read_mix(i, events, error);
    if (i->measure == MEASURE_QUANTILE || i->measure == MEASURE_HOURS ||
        i->measure == MEASURE_OVERLAP)
        return read_duration(i, events, error);
    if (i->measure == MEASURE_RATE && !read_per(i, per, error))
        return false;
    if (i->measure == MEASURE_SHARE && !*events)
        return wrong(error, word, "a share needs events");
    return !*events || (i->events = condition_parse(events, error)) != NULL;
}

static Indicator *read_row(const CsvTable *t, guint r, GError **error) {
    Indicator *i = g_new0(Indicator, 1);
    const char *better = csvtable_cell(t, r, "better");
    i->name = g_strdup(csvtable_cell(t, r, "indicator"));
    i->title = g_strdup(csvtable_cell(t, r, "title"));
    i->note = g_strdup(csvtable_cell(t, r, "note"));
    i->better = g_strdup(better);
    i->compare = g_strdup(csvtable_cell(t, r, "compare"));
    i->events_text = g_strdup(csvtable_cell(t, r, "events"));
    i->among_text = g_strdup(csvtable_cell(t, r, "among"));
    bool good = *i->name ? true : wrong(error, "indicator", "a name is missing");
    if (good && *better && strcmp(better, "lower") != 0 && strcmp(better, "higher") != 0)
        good = wrong(error, better, "better is lower, higher or empty");
    good = good && (i->judged = condition_parse(i->compare, error)) &&
           read_measure(i, csvtable_cell(t, r, "measure"), i->events_text,
                        csvtable_cell(t, r, "per"), error) &&
           (i->among = condition_parse(i->among_text, error)) &&
           read_by(i, csvtable_cell(t, r, "by"), error);
    if (good)
        return i;
    free_indicator(i);
    return NULL;
}

static bool new_in_table(const CsvTable *t, guint r, GError **error) {
    const char *name = csvtable_cell(t, r, "indicator");
    for (guint k = 0; k < r; k++)
        if (!strcmp(csvtable_cell(t, k, "indicator"), name)) {
            char *why = g_strdup_printf("on line %u already", csvtable_line(t, k));
            wrong(error, name, why);
            g_free(why);
            return false;
        }
    return true;
}

// Adds the rows of a table; one of a name already there takes that one's place.
static bool add_rows(GPtrArray *list, const CsvTable *t, const char *file, GError **error) {
    for (guint r = 0; r < csvtable_rows(t); r++) {
        Indicator *i = new_in_table(t, r, error) ? read_row(t, r, error) : NULL;
        if (!i) {
            g_prefix_error(error, "%s:%u: ", file, csvtable_line(t, r));
            return false;
        }
        guint at = 0;
        while (at < list->len && strcmp(((Indicator *)list->pdata[at])->name, i->name) != 0)
            at++;
        if (at == list->len) {
            g_ptr_array_add(list, i);
        } else {
            free_indicator(list->pdata[at]);
            list->pdata[at] = i;
        }
    }
    return true;
}

bool catalogue_judges(const Indicator *in) {
    return *in->compare && (in->measure == MEASURE_SHARE || in->measure == MEASURE_QUANTILE ||
                            (in->measure == MEASURE_RATE && in->exposure != EXPOSURE_WEEKS));
}

GPtrArray *catalogue_load(const Network *network, GError **error) {
    GPtrArray *list = g_ptr_array_new_with_free_func(free_indicator);
    const char *text = embed_text("indicators.csv");
    CsvTable *t = csvtable_parse("built-in indicators.csv", text, strlen(text), columns, error);
    bool good = t && add_rows(list, t, "built-in indicators.csv", error);
    csvtable_free(t);
    char *path = network->dir ? g_build_filename(network->dir, "indicators.csv", NULL) : NULL;
    if (good && path && g_file_test(path, G_FILE_TEST_EXISTS)) {
        t = csvtable_read(path, columns, error);
        good = t && add_rows(list, t, path, error);
        csvtable_free(t);
    }
    g_free(path);
    if (good)
        return list;
    g_ptr_array_unref(list);
    return NULL;
}
