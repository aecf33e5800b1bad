// SPDX-License-Identifier: GPL-3.0-or-later
// Writing the pack: exhibits are made, all their charts drawn while the tables are written, then
// the pages that show them; the summaries grow beside all of it.
#include "pack/pack.h"

#include "base/parallel.h"
#include "pack/bands.h"
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
#include "pack/slugs.h"
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

// What redraws a chart.
static bool write_script(Folder *f, const Chart *c, GError **error) {
    char *script = chart_script(c);
    const bool good = write_part(f, c, ".gp", script, strlen(script), error) &&
                      write_part(f, c, ".dat", c->data->str, c->data->len, error);
    g_free(script);
    return good;
}

static bool write_picture(Folder *f, const Chart *c, const GnuplotFormats *formats,
                          const char *scratch, GError **error) {
    return write_part(f, c, ".svg", c->svg, c->svg_length, error) &&
           (!formats->png || write_converted(f, c, false, scratch, error)) &&
           (!formats->pdf || write_converted(f, c, true, scratch, error));
}

bool pack_chart(Folder *f, const Chart *c, const GnuplotFormats *formats, const char *scratch,
                GError **error) {
    return write_script(f, c, error) && write_picture(f, c, formats, scratch, error);
}

// ---- pages of single units, some at a time, so that a large network needs no more memory ----

enum { BATCH = 64 };

typedef struct {
    const Source *s;
    Folder *f;
    GPtrArray *slugs;     // of all units
    guint first, n;       // those that are done now
    Source source[BATCH]; // a copy for each, in focus
    Report *report[BATCH];
} Units;

static Units *units_new(Folder *f, const Source *s) {
    Units *u = g_new0(Units, 1);
    u->s = s;
    u->f = f;
    u->slugs = slugs_of(s);
    return u;
}

static void units_free(Units *u) {
    g_ptr_array_unref(u->slugs);
    g_free(u);
}

static void make_report(unsigned i, void *user) {
    Units *u = user;
    u->source[i] = *u->s;
    u->source[i].focus = g_array_index(u->s->e->units, uint16_t, u->first + i + 1);
    u->report[i] = report_new(&u->source[i]);
}

// Makes the next ones, and adds their charts.
static void begin_batch(Units *u, GPtrArray *charts) {
    u->n = MIN(u->slugs->len - u->first, BATCH);
    parallel_each(u->n, (int)u->s->e->threads, make_report, u);
    for (guint i = 0; i < u->n; i++)
        report_charts(u->report[i], charts);
}

static bool write_page(const Units *u, guint i, GError **error) {
    char *name = g_strdup_printf("units/%s.html", (char *)u->slugs->pdata[u->first + i]);
    const bool good = write_text(u->f, name, unit_html(u->report[i]), error);
    g_free(name);
    return good;
}

static void end_batch(Units *u) {
    for (guint i = 0; i < u->n; i++)
        report_free(u->report[i]);
    u->first += u->n;
}

// ---- the CSV files, and the package that describes them ----

enum { MOST_TABLES = 24 };

typedef struct {
    Folder *f;
    DataTable table[MOST_TABLES];
    FolderSum sum[MOST_TABLES];
    size_t n;
    GError *error; // the first one
} Csv;

// A table of the package, described by its file's first line.
static void describe(Csv *csv, const char *name, const char *title, const char *head) {
    DataTable *t = &csv->table[csv->n];
    g_assert(csv->n < MOST_TABLES);
    *t = (DataTable){.name = name, .title = title};
    t->columns = dictionary_columns(head, &t->n);
}

static FolderFile *open_csv(Csv *csv, const char *name, const char *title, const char *head) {
    char *path = g_strconcat(name, ".csv", NULL);
    FolderFile *file = folder_open(csv->f, path, true);
    g_free(path);
    describe(csv, name, title, head);
    return file;
}

static void close_csv(Csv *csv, FolderFile *file) {
    folder_close(file, &csv->sum[csv->n++], csv->error ? NULL : &csv->error);
}

// Takes the text over.
static void add_csv(Csv *csv, const char *name, const char *title, GString *text) {
    FolderFile *file = open_csv(csv, name, title, text->str);
    folder_add(file, text->str, text->len);
    close_csv(csv, file);
    g_string_free(text, TRUE);
}

// ---- what needs little but the estimates: it is written beside what is still measured ----

enum { BOOK, SUMMARY, JOBS };

struct Pack {
    Folder *f;
    Source s; // its estimates and network alone
    const char *scratch;
    GAsyncQueue *signals;  // those that were found, once they are
    GThread *thread[JOBS]; // NULL: there is to be only one
    GError *error[JOBS];
    Csv csv; // summary.csv is the first
};

static gpointer write_book(gpointer data) {
    Pack *p = data;
    gsize length;
    parallel_begin();
    Workbook *book = workbook_begin(&p->s, p->scratch);
    parallel_rest();
    const Signals *signals = g_async_queue_pop(p->signals);
    parallel_begin();
    char *text = workbook_end(book, signals, &length, &p->error[0]);
    if (text)
        folder_write(p->f, "summary.xlsx", text, length, &p->error[0]);
    g_free(text);
    parallel_rest();
    return NULL;
}

static gpointer write_summary(gpointer data) {
    Pack *p = data;
    FolderFile *csv = folder_open(p->f, "summary.csv", true);
    FolderFile *json = folder_open(p->f, "summary.json", false);
    tables_summary(p->s.e, folder_add, csv, json);
    folder_close(csv, &p->csv.sum[0], &p->error[1]);
    folder_close(json, NULL, p->error[1] ? NULL : &p->error[1]);
    return NULL;
}

static const GThreadFunc jobs[JOBS] = {[BOOK] = write_book, [SUMMARY] = write_summary};

// On a thread of its own if there are more of them than jobs.
static void begin_job(Pack *p, int job) {
    if (p->scratch && p->s.e->threads > job + 1)
        p->thread[job] = g_thread_new("summary", jobs[job], p);
    else if (p->scratch)
        jobs[job](p);
}

Pack *pack_begin(Folder *f, const Estimates *e, const Network *network) {
    Pack *p = g_new0(Pack, 1);
    *p = (Pack){.f = f, .s = {.e = e, .network = network}, .csv = {.f = f}};
    describe(&p->csv, "summary", "Every estimate", tables_summary_head);
    p->csv.n++;
    p->signals = g_async_queue_new();
    p->scratch = folder_scratch(f, &p->error[0]);
    if (e->threads > 1)
        begin_job(p, BOOK);
    return p;
}

void pack_signals(Pack *p, const Signals *signals) {
    g_async_queue_push(p->signals, (gpointer)signals);
    for (int k = 0; k < JOBS; k++)
        if (!p->thread[k])
            begin_job(p, k);
}

// Waits for them; false if one failed, with its error unless there is one already.
static bool wait_for_jobs(Pack *p, GError **error) {
    bool good = true;
    parallel_rest();
    for (int k = 0; k < JOBS; k++)
        if (p->thread[k])
            g_thread_join(p->thread[k]);
    parallel_begin();
    for (int k = 0; k < JOBS; k++) {
        good = good && !p->error[k];
        if (p->error[k] && error && !*error)
            g_propagate_error(error, p->error[k]);
        else
            g_clear_error(&p->error[k]);
    }
    return good;
}

// What was found about the logs: as long as they are bad.
static void add_findings(Csv *csv, const Source *s) {
    FolderFile *file =
        open_csv(csv, "findings", "What was found about the logs", tables_findings_head);
    tables_findings(s->findings, s->files, folder_add, file);
    close_csv(csv, file);
    file = open_csv(csv, "put-aside", "Rows that were not used", tables_put_aside_head);
    tables_put_aside(s->findings, s->files, folder_add, file);
    close_csv(csv, file);
}

static void add_tables(Csv *csv, const Source *s) {
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
    add_findings(csv, s);
    add_csv(csv, "base-cover", "What it costs the sending units when their own people are away",
            covertable_csv(s->counts->cover, s->e->t));
    add_csv(csv, "received", "Records received by unit and month",
            endstables_received(s->received, s->e->t));
    add_csv(csv, "agreement", "Agreement of both ends' logs", endstables_agreement(s->ends));
    add_csv(csv, "recorded", "How many transfers were probably never logged",
            endstables_recorded(s->ends, s->e->t));
}

static bool write_tables(Csv *csv, const Source *s, GError **error) {
    add_tables(csv, s);
    if (!csv->error)
        return true;
    g_propagate_error(error, csv->error);
    csv->error = NULL;
    return false;
}

static bool write_data(Pack *p, const Source *s, GError **error) {
    const Accounted account = accounted_of(s->account, s->e, s->hiding);
    return write_text(p->f, "manifest.json",
                      tables_manifest(s->inputs, s->n_inputs, &account, s->settings), error) &&
           write_tables(&p->csv, s, error);
}

static bool write_package(Pack *p, const Source *s, GError **error) {
    return write_text(p->f, "datapackage.json",
                      datapackage_text("crossward-audit", "Audit of critical-care transfers",
                                       p->csv.table, p->csv.sum, p->csv.n, s->inputs, s->n_inputs,
                                       s->settings),
                      error);
}

// The scripts of the network's charts (key figures' small ones live in the page), and the report
// without pictures.
static bool write_undrawn(Pack *p, const Report *r, GError **error) {
    bool good = write_text(p->f, "report.md", report_markdown(r), error);
    for (guint i = 0; good && i < r->exhibits->len; i++) {
        const Exhibit *x = r->exhibits->pdata[i];
        good = !x->chart || write_script(p->f, x->chart, error);
    }
    return good;
}

// ---- what holds pictures: all of it is written side by side ----

typedef struct {
    const Pack *p;
    const Report *report; // NULL: it is written
    const Units *units;
    const GnuplotFormats *formats;
    gpointer error; // GError, the first one
} Drawn;

static guint jobs_of_report(const Report *r) {
    return r ? 1 + r->exhibits->len : 0;
}

// The report, which takes longest, its pictures' files, the units' pages.
static bool write_one(const Drawn *d, guint i, GError **error) {
    const Report *r = d->report;
    const guint before = jobs_of_report(r);
    if (i >= before)
        return write_page(d->units, i - before, error);
    if (i == 0)
        return write_text(d->p->f, "report.html", report_html(r), error);
    const Exhibit *x = r->exhibits->pdata[i - 1];
    return !x->chart || write_picture(d->p->f, x->chart, d->formats, d->p->scratch, error);
}

static void write_drawn_one(unsigned i, void *user) {
    Drawn *d = user;
    GError *error = NULL;
    if (!g_atomic_pointer_get(&d->error) && !write_one(d, i, &error) &&
        !g_atomic_pointer_compare_and_exchange(&d->error, NULL, error))
        g_error_free(error);
}

static bool write_drawn(Drawn *d, GError **error) {
    parallel_each(jobs_of_report(d->report) + d->units->n, (int)d->p->s.e->threads, write_drawn_one,
                  d);
    if (d->error)
        g_propagate_error(error, d->error);
    return !d->error;
}

// How far the drawing is: charts before these, and how many come after them, nearly.
typedef struct {
    const Source *s;
    guint before, after;
} Progress;

static void tick(void *user, guint done, guint total) {
    const Progress *g = user;
    if (g->s->tick)
        g->s->tick(g->s->tick_user, g->before + done, g->before + total + g->after);
}

// Draws the charts and writes what holds them; what holds none is written while gnuplot draws.
static bool write_batch(Pack *p, const Source *s, Drawn *d, GPtrArray *charts, Progress *progress,
                        GError **error) {
    GnuplotDrawing *drawing = gnuplot_begin(charts, p->scratch, error);
    if (!drawing)
        return false;
    bool good = !d->report || (write_data(p, s, error) && write_undrawn(p, d->report, error));
    good = gnuplot_end(drawing, tick, progress, good ? error : NULL) && good;
    progress->before += charts->len;
    return good && write_drawn(d, error);
}

// The report and the first units' pages, and then further units'.
static bool write_all(Pack *p, const Source *s, const GnuplotFormats *formats, GError **error) {
    Report *report = report_new(s);
    Units *units = units_new(p->f, s);
    Progress progress = {s, 0, 0};
    bool good = p->scratch != NULL;
    while (good && (report || units->first < units->slugs->len)) {
        GPtrArray *charts = g_ptr_array_new();
        Drawn drawn = {p, report, units, formats, NULL};
        if (report)
            report_charts(report, charts);
        const guint shared = charts->len;
        begin_batch(units, charts);
        progress.after = (units->slugs->len - units->first - units->n) * (charts->len - shared) /
                         MAX(units->n, 1);
        good = write_batch(p, s, &drawn, charts, &progress, error);
        end_batch(units);
        report_free(g_steal_pointer(&report));
        g_ptr_array_unref(charts);
    }
    report_free(report);
    units_free(units);
    return good;
}

bool pack_finish(Pack *p, const Source *s, const GnuplotFormats *formats, GError **error) {
    FindingKinds *kinds = findingkinds_new(s);
    Source whole = *s;
    GPtrArray *bands = bands_new(s->comparisons);
    whole.kinds = kinds;
    whole.bands = bands;
    bool good = write_all(p, &whole, formats, error);
    good = wait_for_jobs(p, error) && good && write_package(p, s, error);
    findingkinds_free(kinds);
    g_ptr_array_unref(bands);
    for (size_t i = 0; i < p->csv.n; i++)
        dictionary_free((DataColumn *)p->csv.table[i].columns, p->csv.table[i].n);
    g_async_queue_unref(p->signals);
    g_free(p);
    return good;
}
