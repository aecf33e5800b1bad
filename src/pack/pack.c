// SPDX-License-Identifier: GPL-3.0-or-later
// Writing the pack: exhibits are made, all their charts drawn while the tables are written, then
// the pages that show them; the workbook grows beside all of it.
#include "pack/pack.h"

#include "pack/changes.h"
#include "pack/comparisons.h"
#include "pack/covertable.h"
#include "pack/dictionary.h"
#include "pack/endstables.h"
#include "pack/exhibit.h"
#include "pack/findingkinds.h"
#include "pack/itemstable.h"
#include "pack/modeltables.h"
#include "pack/replaypack.h"
#include "pack/report.h"
#include "pack/signals.h"
#include "pack/tables.h"
#include "pack/unit.h"
#include "pack/workbook.h"

#include <string.h>

static bool write_text(Folder *f, const char *name, GString *text, GError **error) {
    const bool good = folder_write(f, name, text->str, text->len, error);
    g_string_free(text, TRUE);
    return good;
}

static bool write_part(Folder *f, const Chart *c, const char *ending, const char *text,
                       gsize length, GError **error) {
    char *name = g_strconcat("charts/", c->name, ending, NULL);
    const bool good = folder_write(f, name, text, length, error);
    g_free(name);
    return good;
}

static bool write_converted(Folder *f, const Chart *c, bool pdf, const char *scratch,
                            GError **error) {
    gsize length;
    char *text = gnuplot_convert(c, pdf, scratch, &length, error);
    const bool good = text && write_part(f, c, pdf ? ".pdf" : ".png", text, length, error);
    g_free(text);
    return good;
}

bool pack_chart(Folder *f, const Chart *c, const GnuplotFormats *formats, const char *scratch,
                GError **error) {
    char *script = chart_script(c);
    const bool good = write_part(f, c, ".svg", c->svg, c->svg_length, error) &&
                      write_part(f, c, ".gp", script, strlen(script), error) &&
                      write_part(f, c, ".dat", c->data->str, c->data->len, error) &&
                      (!formats->png || write_converted(f, c, false, scratch, error)) &&
                      (!formats->pdf || write_converted(f, c, true, scratch, error));
    g_free(script);
    return good;
}

// Files of the network's charts; key figures' small ones live in the page.
static bool write_charts(Folder *f, const Report *r, const GnuplotFormats *formats,
                         const char *scratch, GError **error) {
    bool good = true;
    for (guint i = 0; good && i < r->exhibits->len; i++) {
        const Exhibit *x = r->exhibits->pdata[i];
        good = !x->chart || pack_chart(f, x->chart, formats, scratch, error);
    }
    return good;
}

// Reports on single units: each with its own copy of the source, in focus.
typedef struct {
    Source *source; // one a unit
    GPtrArray *reports, *slugs;
} Units;

static Units units_new(const Source *s, GPtrArray *charts) {
    const guint n = s->e->units->len > 1 ? s->e->units->len - 1 : 0;
    Units u = {g_new(Source, n + 1), g_ptr_array_new_with_free_func((GDestroyNotify)report_free),
               unit_slugs(s)};
    for (guint i = 0; i < n; i++) {
        u.source[i] = *s;
        u.source[i].focus = g_array_index(s->e->units, uint16_t, i + 1);
        Report *r = report_new(&u.source[i]);
        report_charts(r, charts);
        g_ptr_array_add(u.reports, r);
    }
    return u;
}

static void units_free(Units *u) {
    g_ptr_array_unref(u->reports);
    g_ptr_array_unref(u->slugs);
    g_free(u->source);
}

static bool write_units(Folder *f, const Units *u, GError **error) {
    bool good = true;
    for (guint i = 0; good && i < u->reports->len; i++) {
        char *name = g_strdup_printf("units/%s.html", (char *)u->slugs->pdata[i]);
        good = write_text(f, name, unit_html(u->reports->pdata[i]), error);
        g_free(name);
    }
    return good;
}

// ---- the workbook: nothing else takes as long, so it is made beside the rest ----

typedef struct {
    const Source *s;
    const char *scratch;
    GThread *thread; // NULL: there is to be only one
    char *text;
    gsize length;
    GError *error;
} Book;

static gpointer make_book(gpointer data) {
    Book *b = data;
    b->text = b->scratch ? workbook_summary(b->s, b->scratch, &b->length, &b->error) : NULL;
    return NULL;
}

static void begin_book(Book *b, Folder *f, const Source *s) {
    *b = (Book){.s = s};
    b->scratch = folder_scratch(f, &b->error);
    if (s->e->threads > 1)
        b->thread = g_thread_new("workbook", make_book, b);
}

// Writes it, if the rest went well.
static bool end_book(Book *b, Folder *f, bool good, GError **error) {
    if (b->thread)
        g_thread_join(b->thread);
    else if (good)
        make_book(b);
    good = good && b->text && folder_write(f, "summary.xlsx", b->text, b->length, error);
    if (b->error && error && !*error)
        g_propagate_error(error, b->error);
    else
        g_clear_error(&b->error);
    g_free(b->text);
    return good;
}

// ---- the CSV files, and the package that describes them ----

enum { MOST_TABLES = 24 };

typedef struct {
    DataTable table[MOST_TABLES];
    GString *text[MOST_TABLES];
    size_t n;
} Csv;

// Takes the text over.
static void add_csv(Csv *csv, const char *name, const char *title, GString *text) {
    DataTable *t = &csv->table[csv->n];
    g_assert(csv->n < MOST_TABLES);
    *t = (DataTable){.name = name, .title = title};
    t->columns = dictionary_columns(text->str, &t->n);
    csv->text[csv->n++] = text;
}

static void make_csv(Csv *csv, const Source *s) {
    add_csv(csv, "summary", "Every estimate", tables_summary(s->e));
    add_csv(csv, "comparisons", "Units against the network", comparisons_csv(s->comparisons));
    add_csv(csv, "signals", "What differs or changes by more than chance",
            signals_csv(s->signals, s->comparisons));
    add_csv(csv, "changes", "Every test of change over time",
            changes_csv(s->signals, s->comparisons));
    add_csv(csv, "series", "Points and limits of the charts over time",
            changes_series(s->signals, s->comparisons, s->e->periods));
    add_csv(csv, "casemix", "Models of the case-mix", modeltables_casemix(s->comparisons));
    add_csv(csv, "calibration", "Models of the case-mix: expected and observed by tenth of risk",
            modeltables_calibration(s->comparisons));
    if (s->trial)
        add_csv(csv, "replay", "What other teams would have reached", replaypack_figures(s->trial));
    add_csv(csv, "waits", "How requests had ended by when", changes_waits(s->waiting));
    add_csv(csv, "mixes", "Mixes by unit", changes_mixes(s->mixes, s->e));
    add_csv(csv, "items", "Equipment and papers, item by item", itemstable_csv(s->items, s->e));
    add_csv(csv, "findings", "What was found about the logs",
            tables_findings(s->findings, s->files));
    add_csv(csv, "put-aside", "Rows that were not used", tables_put_aside(s->findings, s->files));
    add_csv(csv, "base-cover", "What it costs the sending units when their own people are away",
            covertable_csv(s->counts->cover, s->e->t));
    add_csv(csv, "received", "Records received by unit and month",
            endstables_received(s->received, s->e->t));
    add_csv(csv, "agreement", "Agreement of both ends' logs", endstables_agreement(s->ends));
    add_csv(csv, "recorded", "How many transfers were probably never logged",
            endstables_recorded(s->ends, s->e->t));
}

static bool write_csv(Folder *f, const Source *s, GError **error) {
    Csv csv = {.n = 0};
    make_csv(&csv, s);
    GString *package =
        datapackage_text("crossward-audit", "Audit of critical-care transfers", csv.table, csv.text,
                         csv.n, s->inputs, s->n_inputs, s->settings);
    bool good = write_text(f, "datapackage.json", package, error);
    for (size_t i = 0; i < csv.n; i++) {
        char *name = g_strconcat(csv.table[i].name, ".csv", NULL);
        good = good && folder_write(f, name, csv.text[i]->str, csv.text[i]->len, error);
        g_free(name);
        dictionary_free((DataColumn *)csv.table[i].columns, csv.table[i].n);
        g_string_free(csv.text[i], TRUE);
    }
    return good;
}

static bool write_data(Folder *f, const Source *s, GError **error) {
    return write_text(f, "manifest.json",
                      tables_manifest(s->inputs, s->n_inputs, s->account, s->settings), error) &&
           write_csv(f, s, error) &&
           write_text(f, "summary.json", tables_summary_json(s->e), error);
}

static bool write_all(Folder *f, const Source *s, const GnuplotFormats *formats, GError **error) {
    Book book;
    begin_book(&book, f, s);
    Report *report = report_new(s);
    GPtrArray *charts = g_ptr_array_new();
    report_charts(report, charts);
    Units units = units_new(s, charts);
    const char *scratch = folder_scratch(f, error);
    GnuplotDrawing *drawing = scratch ? gnuplot_begin(charts, scratch, error) : NULL;
    bool good = drawing && write_data(f, s, error); // while gnuplot draws
    if (drawing)
        good = gnuplot_end(drawing, s->tick, s->tick_user, good ? error : NULL) && good;
    good = good && write_charts(f, report, formats, scratch, error) &&
           write_units(f, &units, error) &&
           write_text(f, "report.html", report_html(report), error) &&
           write_text(f, "report.md", report_markdown(report), error);
    g_ptr_array_unref(charts);
    units_free(&units);
    report_free(report);
    return end_book(&book, f, good, error);
}

bool pack_write(Folder *f, const Source *s, const GnuplotFormats *formats, GError **error) {
    FindingKinds *kinds = findingkinds_new(s);
    Source whole = *s;
    whole.kinds = kinds;
    const bool good = write_all(f, &whole, formats, error);
    findingkinds_free(kinds);
    return good;
}
