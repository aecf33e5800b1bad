// SPDX-License-Identifier: GPL-3.0-or-later
// Rows into SQLite.
#include "pack/sqlwriter.h"

#include <math.h>

static void check(SqlWriter *w, int code) {
    if (code != SQLITE_OK && code != SQLITE_DONE && code != SQLITE_ROW && !w->failure)
        w->failure = g_strdup(w->db ? sqlite3_errmsg(w->db) : sqlite3_errstr(code));
}

void sqlwriter_open(SqlWriter *w, const char *path) {
    *w = (SqlWriter){0};
    // the file is there, empty; were it made here, one that a told stop has just removed might
    // come again
    check(w, sqlite3_open_v2(path, &w->db, SQLITE_OPEN_READWRITE, NULL));
    // "word" is a name and never, misspelt, a text
    sqlite3_db_config(w->db, SQLITE_DBCONFIG_DQS_DML, 0, NULL);
    sqlite3_db_config(w->db, SQLITE_DBCONFIG_DQS_DDL, 0, NULL);
    // The file is thrown away whole if anything fails, so it needs no journal. Codes come from the
    // very lists that the CHECKs were made from: SQLite would build each list again for every row,
    // eight times the work. integrity_check reads them afterwards, as the tests do.
    sqlwriter_run(w, "PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; "
                     "PRAGMA locking_mode = EXCLUSIVE; PRAGMA cache_size = -65536; PRAGMA "
                     "ignore_check_constraints = ON;");
}

void sqlwriter_run(SqlWriter *w, const char *sql) {
    if (!w->failure)
        check(w, sqlite3_exec(w->db, sql, NULL, NULL, NULL));
}

static void end_table(SqlWriter *w) {
    if (w->insert)
        sqlite3_finalize(w->insert);
    w->insert = NULL;
}

void sqlwriter_table(SqlWriter *w, const char *table, const char *columns) {
    end_table(w);
    w->column = 0;
    GString *sql = g_string_new(NULL);
    g_string_printf(sql, "INSERT INTO %s (%s) VALUES (?", table, columns);
    for (const char *c = columns; *c; c++)
        if (*c == ',')
            g_string_append(sql, ", ?");
    g_string_append_c(sql, ')');
    if (!w->failure)
        check(w, sqlite3_prepare_v2(w->db, sql->str, -1, &w->insert, NULL));
    g_string_free(sql, TRUE);
}

void sqlwriter_bytes(SqlWriter *w, const char *text, int length) {
    w->column++;
    if (text && !w->failure)
        check(w, sqlite3_bind_text(w->insert, w->column, text, length, SQLITE_STATIC));
}

void sqlwriter_text(SqlWriter *w, const char *text) {
    sqlwriter_bytes(w, text, -1);
}

void sqlwriter_integer(SqlWriter *w, gint64 value) {
    w->column++;
    if (!w->failure)
        check(w, sqlite3_bind_int64(w->insert, w->column, value));
}

void sqlwriter_real(SqlWriter *w, double value) {
    w->column++;
    if (isfinite(value) && !w->failure)
        check(w, sqlite3_bind_double(w->insert, w->column, value));
}

void sqlwriter_null(SqlWriter *w) {
    w->column++;
}

void sqlwriter_add(SqlWriter *w) {
    w->column = 0;
    if (w->failure)
        return;
    check(w, sqlite3_step(w->insert));
    sqlite3_reset(w->insert);
    sqlite3_clear_bindings(w->insert);
}

bool sqlwriter_close(SqlWriter *w, const char *name, GError **error) {
    end_table(w);
    const int code = sqlite3_close(w->db);
    w->db = NULL;
    check(w, code);
    const bool good = !w->failure;
    if (!good)
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_IO, "%s: %s", name, w->failure);
    g_free(w->failure);
    return good;
}
