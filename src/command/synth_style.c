// SPDX-License-Identifier: GPL-3.0-or-later
// Writing logs and mappings: a style's columns give heading, cells and mapping alike.
#include "command/synth_style.h"

#include "command/synth_columns.h"

#include "base/csvtable.h"

#include <string.h>

static const struct {
    char delimiter, decimal;
    const char *line_end;
    const char *mapping, *words, *settings;
} styles[SYNTH_STYLES] = {
    [SYNTH_CANONICAL] = {',', '.', "\n", NULL, "canonical: the names and codes of the record", ""},
    [SYNTH_SEMICOLON] = {';', ',', "\r\n", "semicolon.csv",
                         "semicolons, decimal comma, day first, Windows-1252, words of its own",
                         "encoding = windows-1252\ndelimiter = semicolon\ndecimal = comma\n"
                         "date_order = dmy\nlist_separator = +\n"},
    [SYNTH_WIDE] = {',', '.', "\r\n", "wide.csv",
                    "a column for each kind of event, dates and clocks apart, one date for a "
                    "journey also past midnight",
                    "date_order = dmy\n"},
    [SYNTH_SPREADSHEET] = {',', '.', "\n", "spreadsheet.csv",
                           "a spreadsheet's export: serial dates, notes above, totals below",
                           "serial_base = 1900\n"},
};

SynthStyle synth_style_of(guint unit) {
    static const SynthStyle of[] = {SYNTH_CANONICAL,   SYNTH_SEMICOLON,   SYNTH_WIDE,
                                    SYNTH_SEMICOLON,   SYNTH_SPREADSHEET, SYNTH_WIDE,
                                    SYNTH_CANONICAL,   SYNTH_SPREADSHEET, SYNTH_WIDE,
                                    SYNTH_SPREADSHEET, SYNTH_CANONICAL,   SYNTH_SEMICOLON};
    return of[unit % G_N_ELEMENTS(of)];
}

const char *synth_style_mapping_name(SynthStyle style) {
    return styles[style].mapping;
}

const char *synth_style_words(SynthStyle style) {
    return styles[style].words;
}

// The house's word for a code; all of it if the house has none of its own.
static char *word_for(const SynthColumn *c, const char *code) {
    char **pairs = g_strsplit(c->words ? c->words : "", "|", -1);
    char *word = NULL;
    const size_t n = strlen(code);
    for (char **pair = pairs; *pair && !word; pair++)
        if (strncmp(*pair, code, n) == 0 && (*pair)[n] == '=')
            word = g_strdup(*pair + n + 1);
    g_strfreev(pairs);
    return word ? word : g_strdup(code);
}

typedef struct {
    const SynthNetwork *network;
    const SynthUnit *unit;
    SynthStyle style;
    GString *text; // of one cell
} Writing;

static const char *unit_code(const Writing *w, guint u) {
    return g_array_index(w->network->units, SynthUnit, u).code;
}

static void put_date(Writing *w, int32_t local) {
    int y, m, d;
    when_civil(when_day_of(local), &y, &m, &d);
    g_string_append_printf(w->text, "%02d/%02d/%04d", d, m, y);
}

static void put_clock(Writing *w, int32_t local) {
    const int32_t minute = local - when_day_of(local) * WHEN_DAY;
    g_string_append_printf(w->text, "%02d:%02d", minute / 60, minute % 60);
}

static void put_time(Writing *w, int32_t local) {
    int y, m, d;
    when_civil(when_day_of(local), &y, &m, &d);
    if (w->style == SYNTH_CANONICAL) {
        g_string_append_printf(w->text, "%04d-%02d-%02dT", y, m, d);
        put_clock(w, local);
    } else if (w->style == SYNTH_SPREADSHEET) { // days from the end of 1899 on
        const int32_t whole = when_day_of(local), rest = local - whole * WHEN_DAY;
        const int32_t parts = (int32_t)(((int64_t)rest * 100000 + WHEN_DAY / 2) / WHEN_DAY);
        g_string_append_printf(w->text, "%d.%05d", whole - when_day(1899, 12, 30), parts);
    } else {
        put_date(w, local);
        g_string_append_c(w->text, ' ');
        put_clock(w, local);
    }
}

static void put_events(Writing *w, const SynthRecord *r) {
    if (r->n_events == 0)
        g_string_append(w->text, "none");
    for (int i = 0; i < r->n_events; i++) {
        if (i > 0)
            g_string_append_c(w->text, w->style == SYNTH_SEMICOLON ? '+' : ';');
        g_string_append(w->text, field_code_text(field_table[FIELD_events].codes, r->events[i]));
        if (r->harm)
            g_string_append_printf(w->text, ":%s", field_code_text(&field_harm, r->harm));
    }
}

static bool has_event(const SynthRecord *r, const char *category) {
    for (int i = 0; i < r->n_events; i++)
        if (!strcmp(category, field_code_text(field_table[FIELD_events].codes, r->events[i])))
            return true;
    return false;
}

static void put_value(Writing *w, const SynthRecord *r, const SynthColumn *c) {
    const FieldId f = c->field;
    if (f == FIELD_transfer_id)
        g_string_append_printf(w->text, "%s-%05" G_GUINT64_FORMAT, w->unit->code, r->number);
    else if (f == FIELD_recorded_by)
        g_string_append(w->text, w->unit->code);
    else if (f == FIELD_sending_unit || f == FIELD_receiving_unit)
        g_string_append(w->text, unit_code(w, f == FIELD_sending_unit ? r->from : r->to));
    else if (f == FIELD_events)
        put_events(w, r);
    else if (f == FIELD_distance_km && r->tenths >= 0)
        g_string_append_printf(w->text, "%d%c%d", r->tenths / 10, styles[w->style].decimal,
                               r->tenths % 10);
    else if (field_table[f].kind == KIND_TIME && r->at[synth_slot(f)] != WHEN_UNKNOWN)
        put_time(w, r->at[synth_slot(f)]);
    else if (field_table[f].kind == KIND_CODE && r->code[f]) {
        char *word = word_for(c, field_code_text(field_table[f].codes, r->code[f]));
        if (w->style == SYNTH_WIDE && g_ascii_isalpha(*word)) {
            *word = g_ascii_toupper(*word);
            g_strdelimit(word, "-", ' ');
        }
        g_string_append(w->text, word);
        g_free(word);
    }
}

static int32_t journey_start(const SynthRecord *r) {
    for (unsigned k = synth_slot(FIELD_departed_at); k <= synth_slot(FIELD_returned_at); k++)
        if (r->at[k] != WHEN_UNKNOWN)
            return r->at[k];
    return WHEN_UNKNOWN;
}

static void put_remark(Writing *w, const SynthRecord *r) {
    static const char *const remarks[] = {"bridge closed \xE2\x80\x93 long way round",
                                          "second call needed", "notes sent on"};
    if (r->number % 9 == 0)
        g_string_append(w->text, remarks[r->number / 9 % G_N_ELEMENTS(remarks)]);
}

static void put_cell(Writing *w, const SynthRecord *r, const SynthColumn *c) {
    const bool time = c->field < FIELD_COUNT && field_table[c->field].kind == KIND_TIME;
    const int32_t at = c->part == SYNTH_JOURNEY ? journey_start(r)
                       : time                   ? r->at[synth_slot(c->field)]
                                                : WHEN_UNKNOWN;
    if (c->part == SYNTH_CELL)
        put_value(w, r, c);
    else if (c->part == SYNTH_EVENT)
        g_string_append(w->text, has_event(r, c->words) ? "Y" : "");
    else if (c->part == SYNTH_HARM && r->n_events > 0 && r->harm)
        g_string_append(w->text, field_code_text(&field_harm, r->harm));
    else if (c->part == SYNTH_NO_EVENT)
        g_string_append(w->text, r->n_events == 0 ? "Y" : "");
    else if (c->part == SYNTH_YEARS && r->age >= 0)
        g_string_append_printf(w->text, r->age >= 90 ? "90+" : "%d", r->age);
    else if (c->part == SYNTH_REMARK)
        put_remark(w, r);
    else if (time && at != WHEN_UNKNOWN && c->part == SYNTH_CLOCK)
        put_clock(w, at);
    else if (time && at != WHEN_UNKNOWN)
        put_date(w, at);
}

// Appends a cell, quoted where the style's delimiter asks for it.
static void append_cell(GString *out, const char *text, char delimiter) {
    if (strchr(text, delimiter) && delimiter != ',')
        g_string_append_printf(out, "\"%s\"", text);
    else
        csvtable_append(out, text);
}

static void append_row(GString *out, Writing *w, const SynthRecord *r) {
    for (const SynthColumn *c = synth_columns[w->style]; c->head; c++) {
        if (c > synth_columns[w->style])
            g_string_append_c(out, styles[w->style].delimiter);
        g_string_truncate(w->text, 0);
        if (r)
            put_cell(w, r, c);
        else
            g_string_append(w->text, c->head);
        append_cell(out, w->text->str, styles[w->style].delimiter);
    }
    g_string_append(out, styles[w->style].line_end);
}

// A row of a spreadsheet with text in its first cells and nothing in the others.
static void append_note(GString *out, const SynthColumn *columns, const char *text) {
    g_string_append(out, text);
    for (const SynthColumn *c = columns + 1 + (strchr(text, ',') != NULL); c->head; c++)
        g_string_append_c(out, ',');
    g_string_append_c(out, '\n');
}

static void append_notes(GString *out, const Writing *w) {
    char *title = g_strdup_printf("Transfers of %s (invented data)", w->unit->name);
    append_note(out, synth_columns[w->style], title);
    append_note(out, synth_columns[w->style], "Exported from the unit's workbook");
    append_note(out, synth_columns[w->style], "");
    g_free(title);
}

GString *synth_style_log(const SynthNetwork *network, guint unit, SynthStyle style) {
    Writing w = {network, &g_array_index(network->units, SynthUnit, unit), style,
                 g_string_new(NULL)};
    GString *out = g_string_new(style == SYNTH_WIDE ? "\xEF\xBB\xBF" : "");
    if (style == SYNTH_SPREADSHEET)
        append_notes(out, &w);
    append_row(out, &w, NULL);
    for (guint i = 0; i < w.unit->log->len; i++)
        append_row(out, &w, &g_array_index(w.unit->log, SynthRecord, i));
    if (style == SYNTH_SPREADSHEET) {
        char *total = g_strdup_printf("Total,%u", w.unit->log->len);
        append_note(out, synth_columns[style], total);
        g_free(total);
    }
    if (style == SYNTH_SEMICOLON) {
        gsize length;
        char *bytes =
            g_convert(out->str, (gssize)out->len, "WINDOWS-1252", "UTF-8", NULL, &length, NULL);
        g_string_truncate(out, 0);
        g_string_append_len(out, bytes, (gssize)length);
        g_free(bytes);
    }
    g_string_free(w.text, TRUE);
    return out;
}

static void map_row(GString *out, const char *head, const char *source, const char *field,
                    const char *value) {
    csvtable_append(out, head);
    g_string_append_c(out, ',');
    csvtable_append(out, source);
    g_string_append_printf(out, ",%s,%s\n", field, value);
}

static void map_words(GString *out, const SynthColumn *c) {
    char **pairs = g_strsplit(c->words, "|", -1);
    for (char **pair = pairs; *pair; pair++) {
        char *word = strchr(*pair, '=');
        *word++ = 0;
        map_row(out, c->head, word, field_table[c->field].name, *pair);
    }
    g_strfreev(pairs);
}

static void map_column(GString *out, const SynthColumn *c) {
    static const FieldId journey[] = {FIELD_departed_at, FIELD_arrived_at, FIELD_handed_over_at,
                                      FIELD_returned_at};
    if (c->part == SYNTH_REMARK)
        map_row(out, c->head, "", "", "");
    else if (c->part == SYNTH_EVENT)
        map_row(out, c->head, "Y", "events", c->words);
    else if (c->part == SYNTH_HARM)
        map_row(out, c->head, "", "harm", "");
    else if (c->part == SYNTH_NO_EVENT)
        map_row(out, c->head, "Y", "events", "none");
    else if (c->part == SYNTH_JOURNEY)
        for (size_t k = 0; k < G_N_ELEMENTS(journey); k++)
            map_row(out, c->head, "", field_table[journey[k]].name, "date");
    else if (c->part == SYNTH_DATE || c->part == SYNTH_CLOCK)
        map_row(out, c->head, "", field_table[c->field].name,
                c->part == SYNTH_DATE ? "date" : "clock");
    else if (c->words)
        map_words(out, c);
    else
        map_row(out, c->head, "", field_table[c->field].name, "");
}

GString *synth_style_mapping(SynthStyle style) {
    GString *out = g_string_new("source_column,source_value,field,value\n");
    for (const SynthColumn *c = synth_columns[style]; c->head; c++)
        map_column(out, c);
    return out;
}

char *synth_style_section(const SynthNetwork *network, guint unit, SynthStyle style) {
    const char *code = g_array_index(network->units, SynthUnit, unit).code;
    return g_strdup_printf("[log %s.csv]\nmapping = %s\nrecorded_by = %s\n%s", code,
                           styles[style].mapping, code, styles[style].settings);
}
