// SPDX-License-Identifier: GPL-3.0-or-later
// Writing a release.
#include "pack/release.h"

#include "pack/dictionary.h"
#include "pack/releasepage.h"
#include "pack/workbook.h"

static bool write_text(Folder *f, const char *name, GString *text, GError **error) {
    const bool good = folder_write(f, name, text->str, text->len, error);
    g_string_free(text, TRUE);
    return good;
}

static bool write_summary(Folder *f, const Source *s, FolderSum *sum, GError **error) {
    FolderFile *csv = folder_open(f, "summary.csv", true);
    FolderFile *json = folder_open(f, "summary.json", false);
    tables_summary(s->e, folder_add, csv, json);
    const bool good = folder_close(csv, sum, error);
    return folder_close(json, NULL, good ? error : NULL) && good;
}

static bool write_book(Folder *f, const Source *s, GError **error) {
    gsize length;
    const char *scratch = folder_scratch(f, error);
    char *text = scratch ? workbook_end(workbook_begin(s, scratch), NULL, &length, error) : NULL;
    const bool good = text && folder_write(f, "summary.xlsx", text, length, error);
    g_free(text);
    return good;
}

static bool write_package(Folder *f, const Source *s, const FolderSum *sum, GError **error) {
    DataTable table = {.name = "summary", .title = "Every estimate, or that it is hidden"};
    DataColumn *columns = dictionary_columns(tables_summary_head, &table.n);
    table.columns = columns;
    GString *text =
        datapackage_text("crossward-release", "Audit of critical-care transfers: a release", &table,
                         sum, 1, s->inputs, s->n_inputs, s->settings);
    dictionary_free(columns, table.n);
    return write_text(f, "datapackage.json", text, error);
}

static bool write_manifest(Folder *f, const Source *s, GError **error) {
    const Accounted account = accounted_of(s->account, s->e, s->hiding);
    return write_text(f, "manifest.json",
                      tables_manifest(s->inputs, s->n_inputs, &account, s->settings), error);
}

bool release_write(Folder *f, const Source *source, const Hiding *hiding, GError **error) {
    Source s = *source;
    TablesInput *inputs = g_memdup2(source->inputs, source->n_inputs * sizeof *inputs);
    FolderSum sum;
    for (guint i = 0; i < s.n_inputs; i++)
        inputs[i].hidden = true;
    s.hiding = hiding;
    s.inputs = inputs;
    const bool good = write_summary(f, &s, &sum, error) && write_package(f, &s, &sum, error) &&
                      write_manifest(f, &s, error) && write_book(f, &s, error) &&
                      write_text(f, "report.html", releasepage_html(&s), error) &&
                      write_text(f, "report.md", releasepage_markdown(&s), error);
    g_free(inputs);
    return good;
}
