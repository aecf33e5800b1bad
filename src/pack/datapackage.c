// SPDX-License-Identifier: GPL-3.0-or-later
// Writing datapackage.json.
#include "pack/datapackage.h"

#include "base/csvtable.h"
#include "base/version.h"

#include <stdlib.h>

GString *datapackage_heading(const DataTable *table) {
    GString *out = g_string_new(NULL);
    for (size_t c = 0; c < table->n; c++) {
        csvtable_append(out, table->columns[c].name);
        g_string_append_c(out, c + 1 < table->n ? ',' : '\n');
    }
    return out;
}

static json_t *words(const char *const *list) {
    json_t *array = json_array();
    for (; list && *list; list++)
        json_array_append_new(array, json_string(*list));
    return array;
}

static json_t *column(const DataColumn *c) {
    static const char *const types[] = {"string", "integer", "number"};
    json_t *constraints = json_object();
    if (!c->may_be_empty)
        json_object_set_new(constraints, "required", json_true());
    if (c->values)
        json_object_set_new(constraints, "enum", words(c->values));
    return json_pack("{s:s, s:s, s:s, s:o}", "name", c->name, "type", types[c->type], "description",
                     c->description, "constraints", constraints);
}

static json_t *references(const DataTable *table) {
    json_t *list = json_array();
    for (size_t c = 0; c < table->n; c++) {
        const char *name = table->columns[c].name, *other = table->columns[c].table;
        if (other)
            json_array_append_new(list, json_pack("{s:s, s:{s:s, s:s}}", "fields", name,
                                                  "reference", "resource", other, "fields", name));
    }
    return list;
}

static json_t *resource(const DataTable *table, const FolderSum *sum) {
    json_t *fields = json_array();
    for (size_t c = 0; c < table->n; c++)
        json_array_append_new(fields, column(&table->columns[c]));
    json_t *schema = json_pack("{s:o, s:[s]}", "fields", fields, "missingValues", "");
    if (table->key)
        json_object_set_new(schema, "primaryKey", words(table->key));
    json_t *foreign = references(table);
    if (json_array_size(foreign) > 0)
        json_object_set(schema, "foreignKeys", foreign);
    json_decref(foreign);
    char *path = g_strconcat(table->name, ".csv", NULL);
    char *hash = g_strconcat("sha256:", sum->sha256, NULL);
    json_t *all =
        json_pack("{s:s, s:s, s:s, s:s, s:s, s:s, s:s, s:I, s:s, s:o}", "profile",
                  "tabular-data-resource", "name", table->name, "title", table->title, "path", path,
                  "format", "csv", "mediatype", "text/csv", "encoding", "utf-8", "bytes",
                  (json_int_t)sum->bytes, "hash", hash, "schema", schema);
    g_free(path);
    g_free(hash);
    return all;
}

static json_t *input_list(const TablesInput *inputs, size_t n) {
    json_t *list = json_array();
    for (size_t i = 0; i < n; i++) {
        char *name = g_utf8_make_valid(inputs[i].name, -1); // a file's name may be any bytes
        json_array_append_new(list, json_pack("{s:s, s:o, s:s}", "name", name, "bytes",
                                              tables_input_count(&inputs[i], inputs[i].bytes),
                                              "sha256", inputs[i].sha256));
        g_free(name);
    }
    return list;
}

GString *datapackage_text(const char *name, const char *title, const DataTable *tables,
                          const FolderSum *sums, size_t n, const TablesInput *inputs,
                          size_t n_inputs, const char *const *settings) {
    json_t *resources = json_array(), *set = json_object();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(resources, resource(&tables[i], &sums[i]));
    for (const char *const *s = settings; *s; s += 2)
        json_object_set_new(set, s[0], json_string(s[1]));
    json_t *all =
        json_pack("{s:s, s:s, s:s, s:s, s:{s:s, s:s, s:o, s:o}, s:o}", "profile",
                  "tabular-data-package", "name", name, "title", title, "description",
                  "Counts and estimates; no row is about one transfer. Not for individual clinical "
                  "decisions; a unit outside limits is a reason to look, not a verdict.",
                  "made_with", "program", "crossward", "version", VERSION_TEXT, "settings", set,
                  "inputs", input_list(inputs, n_inputs), "resources", resources);
    char *text = all ? json_dumps(all, JSON_INDENT(2)) : NULL;
    if (!text)
        g_error("data package: a name is not UTF-8");
    GString *out = g_string_new(text);
    g_string_append_c(out, '\n');
    free(text);
    json_decref(all);
    return out;
}
