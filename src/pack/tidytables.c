// SPDX-License-Identifier: GPL-3.0-or-later
// Tidy tables: one row an observation, one column a variable; keys are spelt out.
#include "pack/tidytables.h"

#include "base/csvtable.h"
#include "pack/datapackage.h"

static const char *const measures[] = {"share", "rate",  "quantile", "mix",
                                       "count", "hours", "overlap",  NULL};
static const char *const period_kinds[] = {"all", "year", "quarter", "month", NULL};
static const char *const kinds[] = {"id", "unit", "code", "date", "time", "events", "number", NULL};
static const char *const better[] = {"lower", "higher", NULL};
static const char *const parts_of_account[] = {"read",   "used",     "put_aside", "repeated",
                                               "merged", "left_out", NULL};
static const char *const statistics[] = {"share", "rate",  "p25",   "median",  "p75", "p90",
                                         "mix",   "count", "hours", "overlap", NULL};

static const DataColumn counts_columns[] = {
    {.name = "indicator", .description = "what is counted", .table = "indicators"},
    {.name = "unit", .description = "sending unit, or all"},
    {.name = "period", .description = "when", .table = "periods"},
    {.name = "group_field", .description = "field that the group is of, or all"},
    {.name = "group_code", .description = "code or unit in that field, unknown, or all"},
    {.name = "part_field", .description = "of a mix: field whose codes are its parts, else none"},
    {.name = "part_code", .description = "of a mix: code or unit of the part, else none"},
    {.name = "measure", .description = "how the indicator counts", .values = measures},
    {.name = "events",
     .description = "numerator; empty where the measure has none",
     .type = DATA_INTEGER,
     .may_be_empty = true},
    {.name = "total",
     .description =
         "denominator or exposure (transfers, hours, km, weeks); empty where there is none",
     .type = DATA_NUMBER,
     .may_be_empty = true},
    {.name = "unknown",
     .description = "records of which it is not known whether or how they count",
     .type = DATA_INTEGER},
};
static const DataColumn estimates_columns[] = {
    {.name = "indicator", .description = "what is counted", .table = "indicators"},
    {.name = "unit", .description = "sending unit, or all"},
    {.name = "period", .description = "when", .table = "periods"},
    {.name = "group_field", .description = "field that the group is of, or all"},
    {.name = "group_code", .description = "code or unit in that field, unknown, or all"},
    {.name = "part_field", .description = "of a mix: field whose codes are its parts, else none"},
    {.name = "part_code", .description = "of a mix: code or unit of the part, else none"},
    {.name = "statistic", .description = "what is estimated", .values = statistics},
    {.name = "estimate",
     .description = "empty where it is undefined",
     .type = DATA_NUMBER,
     .may_be_empty = true},
    {.name = "lower", .description = "lower limit", .type = DATA_NUMBER, .may_be_empty = true},
    {.name = "upper", .description = "upper limit", .type = DATA_NUMBER, .may_be_empty = true},
    {.name = "confidence", .description = "of the limits, two-sided", .type = DATA_NUMBER},
    {.name = "method", .description = "of the limits"},
    {.name = "if_unknown_none",
     .description = "share if none of the unknown were events",
     .type = DATA_NUMBER,
     .may_be_empty = true},
    {.name = "if_unknown_all",
     .description = "share if all of the unknown were events",
     .type = DATA_NUMBER,
     .may_be_empty = true},
    {.name = "scale", .description = "unit of estimate and limits"},
};
static const DataColumn indicators_columns[] = {
    {.name = "indicator", .description = "name"},
    {.name = "title", .description = "for people", .may_be_empty = true},
    {.name = "measure", .description = "how it counts", .values = measures},
    {.name = "events",
     .description = "what is counted: a condition, a duration from..to, or the field of a mix",
     .may_be_empty = true},
    {.name = "among",
     .description = "condition of the records that it is counted among; empty: all",
     .may_be_empty = true},
    {.name = "scale", .description = "unit of its estimates"},
    {.name = "better",
     .description = "direction that is better, if either",
     .may_be_empty = true,
     .values = better},
    {.name = "compare",
     .description = "records by which units are held against each other; empty: none are",
     .may_be_empty = true},
    {.name = "note", .description = "what to know when reading it", .may_be_empty = true},
};
static const DataColumn fields_columns[] = {
    {.name = "field", .description = "name"},
    {.name = "kind", .description = "what it holds", .values = kinds},
    {.name = "derived", .description = "1: computed from other fields", .type = DATA_INTEGER},
    {.name = "description", .description = "definition"},
};
static const DataColumn codes_columns[] = {
    {.name = "field", .description = "field, event (categories of events) or harm (degrees)"},
    {.name = "code", .description = "as logs write it"},
    {.name = "definition", .description = "definition"},
};
static const DataColumn periods_columns[] = {
    {.name = "period", .description = "name; years and quarters are those of the audit year"},
    {.name = "kind", .description = "length", .values = period_kinds},
    {.name = "first_month", .description = "first month, 2031-07"},
    {.name = "end_month", .description = "first month after it"},
};
static const DataColumn units_columns[] = {
    {.name = "unit", .description = "code, as in the logs"},
    {.name = "name", .description = "name in the network's units.csv", .may_be_empty = true},
};
static const DataColumn inputs_columns[] = {
    {.name = "input", .description = "number, in the order read", .type = DATA_INTEGER},
    {.name = "name", .description = "of the log, below the folder that was given"},
    {.name = "bytes", .description = "size", .type = DATA_INTEGER},
    {.name = "sha256", .description = "checksum of its bytes"},
    {.name = "rows",
     .description = "records after the heading that are not blank",
     .type = DATA_INTEGER},
};
static const DataColumn account_columns[] = {
    {.name = "part",
     .description = "what became of rows; read is the sum of the others",
     .values = parts_of_account},
    {.name = "rows", .description = "number of rows", .type = DATA_INTEGER},
};

static const char *const cell_key[] = {"indicator",  "unit",       "period",    "group_field",
                                       "group_code", "part_field", "part_code", NULL};
static const char *const estimate_key[] = {"indicator",   "unit",       "period",
                                           "group_field", "group_code", "part_field",
                                           "part_code",   "statistic",  NULL};
static const char *const indicator_key[] = {"indicator", NULL};
static const char *const field_key[] = {"field", NULL};
static const char *const code_key[] = {"field", "code", NULL};
static const char *const period_key[] = {"period", NULL};
static const char *const unit_key[] = {"unit", NULL};
static const char *const input_key[] = {"input", NULL};
static const char *const account_key[] = {"part", NULL};

static void text(GString *out, const char *word) {
    csvtable_append(out, word ? word : "");
    g_string_append_c(out, ',');
}

// The comma after the last cell becomes the line's end.
static void end_row(GString *out) {
    out->str[out->len - 1] = '\n';
}

static const char *value_text(const Estimates *e, FieldId f, uint16_t value) {
    if (value == 0)
        return "unknown";
    return field_table[f].kind == KIND_UNIT ? e->t->units->pdata[value]
                                            : field_code_text(field_table[f].codes, value);
}

static void cell(GString *out, const Estimates *e, const Estimate *r) {
    const Indicator *in = e->catalogue->pdata[r->indicator];
    const bool whole = r->by == FIELD_COUNT, mix = in->measure == MEASURE_MIX;
    const char *part = in->field == FIELD_events ? "event" : field_table[in->field].name;
    text(out, in->name);
    text(out, r->unit ? e->t->units->pdata[r->unit] : "all");
    text(out, g_array_index(e->periods, Period, r->period).name);
    text(out, whole ? "all" : field_table[r->by].name);
    text(out, whole ? "all" : value_text(e, r->by, r->group));
    text(out, mix ? part : "none");
    text(out, mix ? value_text(e, in->field, r->part) : "none");
}

static void counts(GString *out, const TidyTables *c) {
    const Estimates *e = c->estimates;
    for (guint i = 0; i < e->rows->len; i++) {
        const Estimate *r = &g_array_index(e->rows, Estimate, i);
        if (r->quantile > 0) // the same records again
            continue;
        cell(out, e, r);
        text(out, measures[((const Indicator *)e->catalogue->pdata[r->indicator])->measure]);
        tables_number_cell(out, r->events);
        tables_number_cell(out, r->total);
        tables_number_cell(out, (double)r->unknown);
        end_row(out);
    }
}

static void estimates(GString *out, const TidyTables *c) {
    const Estimates *e = c->estimates;
    for (guint i = 0; i < e->rows->len; i++) {
        const Estimate *r = &g_array_index(e->rows, Estimate, i);
        cell(out, e, r);
        text(out, estimate_measure(e, r));
        tables_number_cell(out, r->estimate);
        tables_number_cell(out, r->lower);
        tables_number_cell(out, r->upper);
        tables_number_cell(out, e->confidence);
        text(out, estimate_method(e, r));
        tables_number_cell(out, r->if_none);
        tables_number_cell(out, r->if_all);
        text(out, ((const Indicator *)e->catalogue->pdata[r->indicator])->scale);
        end_row(out);
    }
}

static void indicators(GString *out, const TidyTables *c) {
    for (guint i = 0; i < c->estimates->catalogue->len; i++) {
        const Indicator *in = c->estimates->catalogue->pdata[i];
        text(out, in->name);
        text(out, in->title);
        text(out, measures[in->measure]);
        text(out, in->events_text);
        text(out, in->among_text);
        text(out, in->scale);
        text(out, in->better);
        text(out, in->compare);
        text(out, in->note);
        end_row(out);
    }
}

static void fields(GString *out, const TidyTables *c) {
    (void)c;
    for (int f = 0; f < FIELD_COUNT; f++) {
        text(out, field_table[f].name);
        text(out, kinds[field_table[f].kind]);
        tables_number_cell(out, field_table[f].need == NEED_DERIVED);
        text(out, field_table[f].description);
        end_row(out);
    }
}

static void code_list(GString *out, const char *field, const CodeList *list) {
    for (unsigned k = 0; k < list->n; k++) {
        text(out, field);
        text(out, list->codes[k].code);
        text(out, list->codes[k].definition);
        end_row(out);
    }
}

static void codes(GString *out, const TidyTables *c) {
    (void)c;
    for (int f = 0; f < FIELD_COUNT; f++)
        if (field_table[f].kind == KIND_CODE)
            code_list(out, field_table[f].name, field_table[f].codes);
    code_list(out, "event", field_table[FIELD_events].codes);
    code_list(out, "harm", &field_harm);
}

static void month(GString *out, int m) {
    g_string_append_printf(out, "%04d-%02d,", m / 12, m % 12 + 1);
}

static void periods(GString *out, const TidyTables *c) {
    for (guint i = 0; i < c->estimates->periods->len; i++) {
        const Period *p = &g_array_index(c->estimates->periods, Period, i);
        text(out, p->name);
        text(out, period_kinds[p->kind]);
        month(out, p->first);
        month(out, p->end);
        end_row(out);
    }
}

static void units(GString *out, const TidyTables *c) {
    const Estimates *e = c->estimates;
    for (guint i = 1; i < e->units->len; i++) {
        const char *code = e->t->units->pdata[g_array_index(e->units, uint16_t, i)];
        text(out, code);
        text(out, c->network->units ? g_hash_table_lookup(c->network->units, code) : NULL);
        end_row(out);
    }
}

static void inputs(GString *out, const TidyTables *c) {
    for (size_t i = 0; i < c->n_inputs; i++) {
        tables_number_cell(out, (double)i + 1);
        text(out, c->inputs[i].name);
        tables_number_cell(out, (double)c->inputs[i].bytes);
        text(out, c->inputs[i].sha256);
        tables_number_cell(out, (double)c->inputs[i].rows);
        end_row(out);
    }
}

static void account(GString *out, const TidyTables *c) {
    const uint64_t rows[] = {c->account->read,     c->account->used,   c->account->put_aside,
                             c->account->repeated, c->account->merged, c->account->left_out};
    for (size_t i = 0; i < G_N_ELEMENTS(rows); i++) {
        text(out, parts_of_account[i]);
        tables_number_cell(out, (double)rows[i]);
        end_row(out);
    }
}

#define TABLE(name, title, key)                                                                    \
    { #name, title, name##_columns, G_N_ELEMENTS(name##_columns), key }

static const DataTable tables[] = {
    TABLE(counts, "Events, total and unknown of each indicator, unit, period and group", cell_key),
    TABLE(estimates, "Estimates with their limits, from the counts of the same key", estimate_key),
    TABLE(indicators, "Definitions of the indicators", indicator_key),
    TABLE(fields, "Fields of a record", field_key),
    TABLE(codes, "Codes of the fields, in print order", code_key),
    TABLE(periods, "Periods", period_key),
    TABLE(units, "Sending units", unit_key),
    TABLE(inputs, "Logs that were read", input_key),
    TABLE(account, "What became of every row that was read", account_key),
};

bool tidytables_write(Folder *folder, const TidyTables *c, GError **error) {
    void (*const fill[])(GString *, const TidyTables *) = {
        counts, estimates, indicators, fields, codes, periods, units, inputs, account};
    FolderSum sums[G_N_ELEMENTS(tables)];
    G_STATIC_ASSERT(G_N_ELEMENTS(fill) == G_N_ELEMENTS(tables));
    bool good = true;
    for (size_t i = 0; good && i < G_N_ELEMENTS(tables); i++) {
        GString *text = datapackage_heading(&tables[i]);
        fill[i](text, c);
        char *name = g_strconcat(tables[i].name, ".csv", NULL);
        FolderFile *file = folder_open(folder, name, true);
        folder_add(file, text->str, text->len);
        good = folder_close(file, &sums[i], error);
        g_free(name);
        g_string_free(text, TRUE);
    }
    if (!good)
        return false;
    GString *package = datapackage_text(
        "crossward-tables", "Audit of critical-care transfers: counts and estimates", tables, sums,
        G_N_ELEMENTS(tables), c->inputs, c->n_inputs, c->settings);
    good = folder_write(folder, "datapackage.json", package->str, package->len, error);
    g_string_free(package, TRUE);
    return good;
}
