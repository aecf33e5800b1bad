// SPDX-License-Identifier: GPL-3.0-or-later
// Writing conditions, durations and indicators as SQL. SQL's AND, IN and = on NULL are the
// three-valued logic that conditions have, so each term is written as it stands.
#include "pack/views.h"

#include <string.h>

static void append_literal(GString *out, const char *text) {
    g_string_append_c(out, '\'');
    for (; *text; text++) {
        if (*text == '\'')
            g_string_append_c(out, '\'');
        g_string_append_c(out, *text);
    }
    g_string_append_c(out, '\'');
}

// Text for the rest of a comment line: what could end the line becomes a space.
static void append_comment(GString *out, const char *text) {
    for (; *text; text++)
        g_string_append_c(out, (unsigned char)*text < ' ' || *text == 127 ? ' ' : *text);
}

// `= 'a'` or `IN ('a', 'b')`, negated `<> 'a'` or `NOT IN ('a', 'b')`.
static void append_choice(GString *out, const GPtrArray *codes, bool negated) {
    if (codes->len == 1) {
        g_string_append(out, negated ? " <> " : " = ");
        append_literal(out, codes->pdata[0]);
        return;
    }
    g_string_append(out, negated ? " NOT IN (" : " IN (");
    for (guint i = 0; i < codes->len; i++) {
        g_string_append(out, i ? ", " : "");
        append_literal(out, codes->pdata[i]);
    }
    g_string_append_c(out, ')');
}

static GPtrArray *codes_of(const ConditionTerm *term) {
    GPtrArray *codes = g_ptr_array_new();
    if (field_table[term->field].kind == KIND_UNIT) {
        for (const char *const *u = term->units; *u; u++)
            g_ptr_array_add(codes, (gpointer)*u);
        return codes;
    }
    const CodeList *list = field_table[term->field].codes;
    for (unsigned c = 1; c <= list->n; c++)
        if (term->codes >> c & 1)
            g_ptr_array_add(codes, (gpointer)list->codes[c - 1].code);
    return codes;
}

// FROM and WHERE that find the adverse events that a term names.
static void append_matching(GString *out, const ConditionTerm *term) {
    g_string_append(out, "FROM adverse_events");
    if (!term->any) {
        GPtrArray *codes = codes_of(term);
        g_string_append(out, " WHERE category");
        append_choice(out, codes, false);
        g_ptr_array_unref(codes);
    }
}

static void append_term(GString *out, const ConditionTerm *term) {
    if (term->field == FIELD_events) {
        // without a list of events it is unknown which there were
        g_string_append_printf(out,
                               "CASE WHEN events IS NOT NULL\n                THEN transfer %sIN "
                               "(SELECT transfer ",
                               term->negated ? "NOT " : "");
        append_matching(out, term);
        g_string_append(out, ") END");
        return;
    }
    GPtrArray *codes = codes_of(term);
    g_string_append(out, field_table[term->field].name);
    append_choice(out, codes, term->negated);
    g_ptr_array_unref(codes);
}

char *views_condition(const Condition *condition) {
    GString *out = g_string_new(NULL);
    for (unsigned i = 0; i < condition_terms(condition); i++) {
        const ConditionTerm term = condition_term(condition, i);
        g_string_append(out, i ? "\n            AND " : "");
        append_term(out, &term);
    }
    if (out->len == 0)
        g_string_append(out, "TRUE");
    return g_string_free(out, FALSE);
}

// Minutes of a duration, NULL unless both times are known, in order, and not longer than is
// believable.
static void append_minutes(GString *out, const Indicator *in, const Network *network) {
    const char *from = field_table[in->from].name, *to = field_table[in->to].name;
    const int32_t cap = network_cap(network, in->from, in->to);
    g_string_append_printf(out, "CASE WHEN %s_epoch >= %s_epoch", to, from);
    if (cap != INT32_MAX)
        g_string_append_printf(out, " AND (%s_epoch - %s_epoch) / 60 <= %d", to, from, cap);
    g_string_append_printf(out, "\n            THEN (%s_epoch - %s_epoch) / 60 END", to, from);
}

// Index of the term that says which events a rate counts, -1 if it counts records.
static int counted_term(const Indicator *in) {
    if (in->measure == MEASURE_RATE && in->events)
        for (unsigned i = 0; i < condition_terms(in->events); i++) {
            const ConditionTerm term = condition_term(in->events, i);
            if (term.field == FIELD_events && !term.negated)
                return (int)i;
        }
    return -1;
}

// What `record` is selected from: transfers, with the number of matching events where that counts.
static void append_from(GString *out, const Indicator *in) {
    g_string_append(out, "\n    FROM transfers");
    if (counted_term(in) < 0)
        return;
    const ConditionTerm term = condition_term(in->events, (unsigned)counted_term(in));
    g_string_append(out, "\n    LEFT JOIN (\n        SELECT transfer AS owner, count(*) AS number\n"
                         "        ");
    append_matching(out, &term);
    g_string_append(out, "\n        GROUP BY transfer\n    ) AS matching "
                         "ON matching.owner = transfers.transfer");
}

// The columns of `record` beyond transfer and among.
static void append_facts(GString *out, const Indicator *in, const Network *network) {
    char *event = in->events ? views_condition(in->events) : g_strdup("TRUE");
    const char *exposure = in->exposure == EXPOSURE_KM ? "distance_km" : "1";
    switch (in->measure) {
    case MEASURE_SHARE:
        g_string_append_printf(out, ",\n        %s AS event", event);
        break;
    case MEASURE_RATE:
        g_string_append_printf(out, ",\n        %s AS event,\n        ", event);
        g_string_append(out, counted_term(in) < 0 ? "1" : "coalesce(matching.number, 0)");
        g_string_append(out, " AS number,\n        ");
        if (in->exposure == EXPOSURE_HOURS)
            append_minutes(out, in, network);
        else
            g_string_append(out, exposure);
        g_string_append(out, in->exposure == EXPOSURE_HOURS ? " AS minutes" : " AS exposure");
        break;
    case MEASURE_QUANTILE:
    case MEASURE_HOURS:
    case MEASURE_OVERLAP:
        g_string_append(out, ",\n        ");
        append_minutes(out, in, network);
        g_string_append(out, " AS minutes");
        break;
    case MEASURE_MIX:
        g_string_append_printf(out, ",\n        %s AS part",
                               in->field == FIELD_events ? "events" : field_table[in->field].name);
        break;
    case MEASURE_COUNT:
        break;
    }
    g_free(event);
}

typedef struct {
    const char *counted; // what beside `among` must be known for a record to be counted
    const char *part, *events, *total, *minutes; // what it adds then
} Shape;

static Shape shape_of(const Indicator *in) {
    Shape s = {"", "CAST(NULL AS TEXT)", "CASE WHEN counted THEN 1 ELSE 0 END",
               "CASE WHEN counted THEN 1 ELSE 0 END", "CAST(NULL AS INTEGER)"};
    const bool hours = in->measure == MEASURE_RATE && in->exposure == EXPOSURE_HOURS;
    switch (in->measure) {
    case MEASURE_SHARE:
        s.counted = " AND event IS NOT NULL";
        s.events = "CASE WHEN counted AND event THEN 1 ELSE 0 END";
        break;
    case MEASURE_RATE:
        s.counted = hours ? " AND event IS NOT NULL AND minutes IS NOT NULL"
                          : " AND event IS NOT NULL AND exposure IS NOT NULL";
        s.events = "CASE WHEN counted AND event THEN number ELSE 0 END";
        s.total = hours ? "CASE WHEN counted THEN minutes / 60.0 ELSE 0 END"
                        : "CASE WHEN counted THEN exposure ELSE 0 END";
        s.minutes = hours ? "CASE WHEN counted THEN minutes END" : s.minutes;
        break;
    case MEASURE_QUANTILE:
    case MEASURE_HOURS:
    case MEASURE_OVERLAP:
        s.counted = " AND minutes IS NOT NULL";
        s.minutes = "CASE WHEN counted THEN minutes END";
        break;
    case MEASURE_MIX:
        s.counted = " AND part IS NOT NULL";
        s.part = in->field == FIELD_events ? "adverse_events.category"
                                           : "CASE WHEN counted THEN part END";
        break;
    case MEASURE_COUNT:
        break;
    }
    return s;
}

static void append_heading(GString *out, const Indicator *in, const char *name) {
    g_string_append_printf(out, "CREATE VIEW %s AS\n-- ", name);
    append_comment(out, in->name);
    g_string_append(out, ": ");
    append_comment(out, in->title);
    g_string_append(out, "\n-- counts: ");
    append_comment(out, *in->events_text ? in->events_text : "records");
    g_string_append(out, "\n-- among:  ");
    append_comment(out, *in->among_text ? in->among_text : "all");
}

static void append_view(GString *out, const Indicator *in, const char *name,
                        const Network *network) {
    const Shape s = shape_of(in);
    char *among = views_condition(in->among);
    append_heading(out, in, name);
    g_string_append_printf(
        out, "\nWITH record AS (\n    SELECT\n        transfer,\n        %s AS among", among);
    append_facts(out, in, network);
    append_from(out, in);
    g_string_append_printf(out,
                           "\n),\n"
                           "candidate AS ( -- not certainly outside; counted if all is known\n"
                           "    SELECT record.*, among IS TRUE%s AS counted\n"
                           "    FROM record\n    WHERE among IS NOT FALSE\n)\n",
                           s.counted);
    g_string_append_printf(out,
                           "SELECT\n    candidate.transfer,\n    %s AS part,\n    %s AS events,\n"
                           "    %s AS total,\n    %s AS minutes,\n"
                           "    CASE WHEN counted THEN 0 ELSE 1 END AS unknown\nFROM candidate",
                           s.part, s.events, s.total, s.minutes);
    // one row an adverse event; a counted record without one adds nothing
    if (in->measure == MEASURE_MIX && in->field == FIELD_events)
        g_string_append(out, "\nLEFT JOIN adverse_events\n"
                             "    ON counted AND adverse_events.transfer = candidate.transfer\n"
                             "WHERE NOT counted OR adverse_events.category IS NOT NULL");
    g_string_append(out, ";\n\n");
    g_free(among);
}

static bool is_taken(const GPtrArray *names, const char *name) {
    static const char *const own[] = {"indicator_records", "indicator_parts", "indicator_cells",
                                      "indicator_counts", NULL};
    bool taken = g_strv_contains(own, name);
    for (guint i = 0; !taken && i < names->len; i++) {
        char *cells = g_strconcat(names->pdata[i], "_cells", NULL);
        taken = !strcmp(names->pdata[i], name) || !strcmp(cells, name);
        g_free(cells);
    }
    return taken || g_str_has_suffix(name, "_cells");
}

GPtrArray *views_names(const GPtrArray *catalogue) {
    GPtrArray *names = g_ptr_array_new_with_free_func(g_free);
    for (guint i = 0; i < catalogue->len; i++) {
        GString *slug = g_string_new("indicator_");
        for (const char *c = ((Indicator *)catalogue->pdata[i])->name; *c && slug->len < 46; c++)
            g_string_append_c(slug, g_ascii_isalnum(*c) ? g_ascii_tolower(*c) : '_');
        const gsize length = slug->len;
        for (unsigned n = 2; is_taken(names, slug->str); n++) {
            g_string_truncate(slug, length);
            g_string_append_printf(slug, "_%u", n);
        }
        g_ptr_array_add(names, g_string_free(slug, FALSE));
    }
    return names;
}

// Group of a record in the breakdown in hand: `CASE breakdowns.field WHEN 'all' THEN 'all' ...`.
static void append_code(GString *out, const Indicator *in) {
    g_string_append(out, "coalesce(CASE breakdowns.field WHEN 'all' THEN 'all'");
    for (unsigned b = 0; b < in->n_by; b++) {
        const char *field = field_table[in->by[b]].name;
        g_string_append_printf(out, "\n                WHEN '%s' THEN transfers.%s", field, field);
    }
    g_string_append(out, " END, '')");
}

// What the records of each sending unit and month add up to, in each breakdown (and, of a mix,
// part).
static void append_months(GString *out, const Indicator *in, const char *name,
                          const char *literal) {
    const bool mix = in->measure == MEASURE_MIX;
    g_string_append(out, "        SELECT transfers.sending_unit, transfers.month, "
                         "breakdowns.field,\n            ");
    append_code(out, in);
    g_string_append_printf(
        out,
        " AS code,\n            %s AS part, sum(record.events) AS events,\n"
        "            sum(record.total) AS total, sum(record.minutes) AS minutes,\n"
        "            sum(record.unknown) AS unknown\n"
        "        FROM %s AS record\n"
        "        JOIN transfers ON transfers.transfer = record.transfer\n"
        "        JOIN breakdowns ON breakdowns.indicator = %s\n"
        "        GROUP BY transfers.sending_unit, transfers.month, "
        "breakdowns.field, code%s\n",
        mix ? "coalesce(record.part, '')" : "''", name, literal, mix ? ", record.part" : "");
}

// Those of the cells that are reported: their members' months, and nothing where there are none.
static void append_addends(GString *out, const Indicator *in, const char *name,
                           const char *literal) {
    g_string_append_printf(out,
                           "    SELECT unit, period, field, code, part,\n"
                           "        0 AS events, 0 AS total, 0 AS minutes, 0 AS unknown\n"
                           "    FROM reported_cells\n    WHERE indicator = %s\n    UNION ALL\n"
                           "    SELECT reported_months.unit, reported_months.period,\n"
                           "        by_month.field, by_month.code, by_month.part,\n"
                           "        by_month.events, by_month.total, by_month.minutes, "
                           "by_month.unknown\n    FROM (\n",
                           literal);
    append_months(out, in, name, literal);
    g_string_append(out, "    ) AS by_month\n    JOIN reported_months\n"
                         "        ON reported_months.member = by_month.sending_unit\n"
                         "        AND reported_months.month = by_month.month\n"
                         "        AND (by_month.field = 'all' OR reported_months.grouped = 1)\n");
}

// Sums of one indicator over cells. The total and unknown of a mix are those of all its parts.
static void append_cells(GString *out, const Indicator *in, const char *name) {
    GString *literal = g_string_new(NULL);
    append_literal(literal, in->name);
    g_string_append_printf(
        out, "CREATE VIEW %s_cells AS\n-- sums of %s over every cell that is reported\n", name,
        name);
    if (in->measure == MEASURE_MIX) {
        g_string_append(out, "WITH cell_part AS (\n    SELECT unit, period, field, code, part, "
                             "sum(events) AS events,\n"
                             "    sum(sum(total)) OVER all_parts AS total, sum(sum(minutes)) OVER "
                             "all_parts AS minutes,\n"
                             "    sum(sum(unknown)) OVER all_parts AS unknown\nFROM (\n");
        append_addends(out, in, name, literal->str);
        g_string_append_printf(out,
                               ") AS addend\nGROUP BY unit, period, field, code, part\n"
                               "WINDOW all_parts AS (PARTITION BY unit, period, field, code)\n)\n"
                               "SELECT %s AS indicator, unit, period, field, code, part, events, "
                               "total, minutes, unknown\n"
                               "FROM cell_part\nWHERE part <> '';\n\n", // '': the part is unknown
                               literal->str);
    } else {
        g_string_append_printf(out,
                               "SELECT %s AS indicator, unit, period, field, code, part,\n"
                               "    sum(events) AS events, sum(total) AS total, sum(minutes) AS "
                               "minutes, sum(unknown) AS unknown\nFROM (\n",
                               literal->str);
        append_addends(out, in, name, literal->str);
        g_string_append(out, ") AS addend\nGROUP BY unit, period, field, code, part;\n\n");
    }
    g_string_free(literal, TRUE);
}

// One SELECT a view: `SELECT FIRST, columns FROM NAME` and so on. SQLite joins at most 500 by
// UNION ALL, so a long catalogue is a union of unions.
static void append_union(GString *out, const GPtrArray *catalogue, const GPtrArray *names,
                         bool cells) {
    enum { MOST = 400 };
    const bool nested = catalogue->len > MOST;
    for (guint i = 0; i < catalogue->len; i++) {
        const char *name = names->pdata[i];
        if (i > 0)
            g_string_append(out, i % MOST == 0 ? ") AS block\nUNION ALL\n" : "UNION ALL\n");
        if (nested && i % MOST == 0)
            g_string_append(out, "SELECT * FROM (\n");
        g_string_append(out, "SELECT ");
        if (cells) {
            g_string_append_printf(out,
                                   "indicator, unit, period, field, code, part, events, total, "
                                   "minutes, unknown FROM %s_cells\n",
                                   name);
            continue;
        }
        append_literal(out, ((Indicator *)catalogue->pdata[i])->name);
        g_string_append_printf(out, "%s, transfer, part, events, total, minutes, unknown FROM %s\n",
                               i % MOST == 0 ? " AS indicator" : "", name);
    }
    g_string_append(out, nested ? ") AS block;\n" : ";\n");
}

GString *views_sql(const GPtrArray *catalogue, const GPtrArray *names, const Network *network) {
    GString *out = g_string_new(NULL);
    for (guint i = 0; i < catalogue->len; i++)
        append_view(out, catalogue->pdata[i], names->pdata[i], network);
    g_string_append(out, "CREATE VIEW indicator_records AS\n"
                         "-- what each record adds to each indicator\n");
    append_union(out, catalogue, names, false);
    for (guint i = 0; i < catalogue->len; i++)
        append_cells(out, catalogue->pdata[i], names->pdata[i]);
    g_string_append(out, "CREATE VIEW indicator_cells AS\n"
                         "-- what the records of each reported cell add up to\n");
    append_union(out, catalogue, names, true);
    return out;
}
