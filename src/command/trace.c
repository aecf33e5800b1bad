// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward trace`: the records behind one row of summary.csv.
#include "command/command.h"
#include "command/session.h"

#include "base/csvtable.h"
#include "measure/members.h"
#include "pack/tables.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct {
    char *indicator, *unit, *group, *period;
} Asked;

static void clear_asked(Asked *asked) {
    g_free(asked->indicator);
    g_free(asked->unit);
    g_free(asked->group);
    g_free(asked->period);
}

static bool wrong(GError **error, const char *what, const char *word, const char *why) {
    g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE, "%s '%s': %s", what, word, why);
    return false;
}

// Options; the first word is the indicator, the rest are logs. A period names a cell here, and does
// not set the audited span.
static bool parse(char **argv, SessionOptions *o, Asked *asked, GError **error) {
    const GOptionEntry own[] = {
        {"unit", 0, 0, G_OPTION_ARG_STRING, &asked->unit, "sending unit, or all (all)", "U"},
        {"group", 0, 0, G_OPTION_ARG_STRING, &asked->group,
         "group as summary.csv writes it: field=code, field=unknown, or all (all)", "G"},
        {0},
    };
    const SessionCommand command = {
        .arguments = "INDICATOR LOG...",
        .about = "The records behind numerator, denominator and unknown of one row of "
                 "summary.csv, as CSV on standard\noutput; what they come to, on standard error.",
        .uses = SESSION_READING,
        .own = own,
        .words = 2,
    };
    if (!session_parse(argv, &command, o, error))
        return false;
    asked->indicator = o->logs[0];
    memmove(o->logs, o->logs + 1, g_strv_length(o->logs) * sizeof *o->logs);
    asked->period = o->period && strcmp(o->period, "all") != 0 ? g_strdup(o->period) : NULL;
    g_clear_pointer(&o->period, g_free);
    return true;
}

// Place of an indicator in the catalogue.
static bool find_indicator(const Session *a, const char *name, uint16_t *index, GError **error) {
    for (guint i = 0; i < a->catalogue->len; i++) {
        if (!strcmp(((const Indicator *)a->catalogue->pdata[i])->name, name)) {
            *index = (uint16_t)i;
            return true;
        }
    }
    return wrong(error, "indicator", name,
                 "the catalogue has none of that name; "
                 "summary.csv has those there are");
}

static bool find_unit(const CountData *d, const char *name, uint16_t *unit, GError **error) {
    *unit = 0;
    if (!name || !strcmp(name, "all"))
        return true;
    for (guint u = 1; *unit == 0 && u < d->units->len; u++)
        if (!strcmp(d->t->units->pdata[g_array_index(d->units, uint16_t, u)], name))
            *unit = g_array_index(d->units, uint16_t, u);
    return *unit != 0 || wrong(error, "unit", name, "sent no transfer that is used");
}

// What the search for a group goes by.
typedef struct {
    Estimates table; // as far as names of groups need it
    const CountData *d;
    const Indicator *in;
    uint16_t index;
    const char *name;
} Search;

// Whether a row of the table bears the name that is asked for; then sets the cell to it.
static bool is_group(const Search *s, MembersCell candidate, MembersCell *cell) {
    const Estimate row = {.indicator = s->index,
                          .by = candidate.by,
                          .group = candidate.group,
                          .part = candidate.part};
    char *text = estimate_group(&s->table, &row);
    const bool same = !strcmp(text, s->name);
    if (same)
        *cell = candidate;
    g_free(text);
    return same;
}

// A group as a whole, and the parts within it.
static bool find_part(const Search *s, MembersCell candidate, MembersCell *cell) {
    bool found = is_group(s, candidate, cell);
    GArray *parts = count_parts(s->d, s->in);
    for (guint p = 0; !found && s->in->measure == MEASURE_MIX && p < parts->len; p++) {
        candidate.part = g_array_index(parts, uint16_t, p);
        found = is_group(s, candidate, cell);
    }
    g_array_unref(parts);
    return found;
}

static bool find_group(const Search *s, MembersCell *cell, GError **error) {
    MembersCell candidate = *cell;
    candidate.by = FIELD_COUNT;
    bool found = find_part(s, candidate, cell);
    for (unsigned b = 0; !found && b < s->in->n_by; b++) {
        const GArray *codes = s->d->codes[s->in->by[b]];
        candidate.by = s->in->by[b];
        for (guint c = 0; !found && c < codes->len; c++) {
            candidate.group = g_array_index(codes, uint16_t, c);
            found = find_part(s, candidate, cell);
        }
    }
    return found ||
           wrong(error, "group", s->name, "summary.csv has none of that name for this indicator");
}

static const char *role(const Member *m) {
    return m->unknown ? "unknown" : m->events > 0 ? "numerator" : "denominator";
}

static void print_row(GString *out, const Session *a, const CountData *d, const Indicator *in,
                      const Member *m) {
    g_string_append_printf(out, "%s,", role(m));
    csvtable_append(out, ((Input *)a->inputs->pdata[d->t->file[m->row]])->name);
    g_string_append_printf(out, ",%u,", d->t->line[m->row]);
    if (d->t->other_line && d->t->other_line[m->row]) {
        csvtable_append(out, ((Input *)a->inputs->pdata[d->t->other_file[m->row]])->name);
        g_string_append_printf(out, ",%u,", d->t->other_line[m->row]);
    } else {
        g_string_append(out, ",,");
    }
    csvtable_append(out, d->t->units->pdata[count_value(d->t, FIELD_sending_unit, m->row)]);
    const int month = d->first + d->month[m->row];
    g_string_append_printf(out, ",%04d-%02d,", month / 12, month % 12 + 1);
    if (in->measure != MEASURE_QUANTILE)
        g_string_append_printf(out, "%u", m->events);
    g_string_append_c(out, ',');
    if (in->measure != MEASURE_COUNT && in->measure != MEASURE_HOURS &&
        in->measure != MEASURE_OVERLAP)
        tables_number(out, m->total);
    g_string_append_c(out, ',');
    if (m->minutes >= 0)
        g_string_append_printf(out, "%d", m->minutes);
    g_string_append_printf(out, ",%d\n", m->unknown);
}

static void append_count(GString *out, const char *word, double value) {
    if (isnan(value)) // the measure has none
        return;
    g_string_append_printf(out, "%s ", word);
    tables_number(out, value);
    g_string_append(out, ", ");
}

// Writes the rows, then says what they come to, in the words of summary.csv.
static bool print(const Session *a, const CountData *d, const Indicator *in,
                  const MembersCell *cell, bool quiet) {
    GArray *members = members_of(d, in, cell);
    const MembersCount c = members_count(d, in, cell, members);
    GString *out = g_string_new(
        "role,file,line,other_file,other_line,unit,month,events,total,minutes,unknown\n");
    for (guint i = 0; i < members->len; i++)
        print_row(out, a, d, in, &g_array_index(members, Member, i));
    const bool good = fwrite(out->str, 1, out->len, stdout) == out->len && fflush(stdout) == 0;
    g_string_truncate(out, 0);
    append_count(out, "events", c.events);
    append_count(out, "total", c.total);
    if (!quiet && good)
        g_printerr("%sunknown %" G_GUINT64_FORMAT "; %u record%s\n", out->str, c.unknown,
                   members->len, members->len == 1 ? "" : "s");
    g_string_free(out, TRUE);
    g_array_unref(members);
    return good;
}

static int trace(const Session *a, const Asked *asked, uint16_t index, MembersCell cell, bool quiet,
                 GError **error) {
    const CountSpan span = {0};
    CountData *d = count_data_new(a->t, a->network, a->catalogue, &span);
    const Search search = {{.catalogue = a->catalogue, .t = a->t},
                           d,
                           a->catalogue->pdata[index],
                           index,
                           asked->group ? asked->group : "all"};
    if (!asked->period) {
        cell.first = g_array_index(d->periods, Period, 0).first;
        cell.end = g_array_index(d->periods, Period, 0).end;
    }
    int code = COMMAND_USAGE;
    if (find_unit(d, asked->unit, &cell.unit, error) && find_group(&search, &cell, error))
        code = print(a, d, search.in, &cell, quiet) ? COMMAND_DONE : COMMAND_OUTPUT;
    if (code == COMMAND_OUTPUT)
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_IO, "standard output cannot be written");
    count_data_free(d);
    return code;
}

int trace_run(int argc, char **argv, GError **error) {
    SessionOptions o = {0};
    Session a = {0};
    Asked asked = {0};
    MembersCell cell = {0};
    uint16_t index = 0;
    int code = COMMAND_USAGE;
    (void)argc;
    if (parse(argv, &o, &asked, error))
        code = session_load(&o, &a, error);
    if (code == COMMAND_DONE &&
        (!find_indicator(&a, asked.indicator, &index, error) ||
         (asked.period &&
          !period_parse(asked.period, a.network->year_starts, &cell.first, &cell.end, error))))
        code = COMMAND_USAGE;
    if (code == COMMAND_DONE)
        code = session_read(&a, error);
    if (code == COMMAND_DONE)
        code = trace(&a, &asked, index, cell, o.quiet, error);
    if (code == COMMAND_DONE && session_any_severe(a.findings))
        code = COMMAND_SEVERE;
    session_clear(&a);
    session_clear_options(&o);
    clear_asked(&asked);
    return code;
}
