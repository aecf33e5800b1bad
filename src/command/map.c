// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward map`: drafts the mapping of one foreign log.
#include "command/command.h"
#include "command/session.h"

#include "base/outfile.h"
#include "intake/guess.h"
#include "intake/reader.h"
#include "pack/tables.h"

#include <stdio.h>
#include <string.h>

enum { ROWS_LOOKED_AT = 5000 };

// A cell of the draft; quoted where it must be, or where a spreadsheet would take it for a formula.
static void append_cell(GString *out, const char *text, char after) {
    if (text && (strpbrk(text, ",\"\r\n") || (*text && strchr("=+-@\t ", *text)))) {
        g_string_append_c(out, '"');
        for (; *text; text++)
            g_string_append_printf(out, "%s%c", *text == '"' ? "\"" : "", *text);
        g_string_append_c(out, '"');
    } else if (text) {
        g_string_append(out, text);
    }
    g_string_append_c(out, after);
}

static GString *draft(const Sample *sample, const GPtrArray *guesses) {
    GString *out =
        g_string_new("source_column,source_value,field,value,from,until,confidence,evidence\n");
    for (guint i = 0; i < guesses->len; i++) {
        const Guess *g = guesses->pdata[i];
        append_cell(out, sample->columns[g->column].head, ',');
        append_cell(out, g->source_value, ',');
        append_cell(out, g->field, ',');
        append_cell(out, g->value, ',');
        g_string_append(out, ",,");
        append_cell(out, guess_word(g->trust), ',');
        append_cell(out, g->evidence, '\n');
    }
    return out;
}

static bool write_text(const char *path, const GString *text, GError **error) {
    if (path)
        return outfile_write(path, text->str, text->len, error);
    if (fwrite(text->str, 1, text->len, stdout) == text->len && fflush(stdout) == 0)
        return true;
    g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_IO, "standard output cannot be written");
    return false;
}

// What was found, and what is left to a person.
static bool has_field(const GPtrArray *guesses, const char *field) {
    for (guint i = 0; i < guesses->len; i++)
        if (!g_strcmp0(((Guess *)guesses->pdata[i])->field, field))
            return true;
    return false;
}

// What every log must have and no column seems to be.
static void say_lacking(const GPtrArray *guesses) {
    if (!has_field(guesses, "sending_unit"))
        g_printerr("no column seems to be sending_unit, which every log needs: name the column of "
                   "the unit that the patient left in the draft, or give it to any column's "
                   "(any other)\n");
    if (!has_field(guesses, "requested_at") && !has_field(guesses, "transfer_date") &&
        !has_field(guesses, "departed_at"))
        g_printerr("no column seems to be requested_at, transfer_date or departed_at, of which "
                   "every log needs one: name it in the draft\n");
}

static void say(const Input *input, const Sample *sample, const GPtrArray *guesses,
                const char *out) {
    unsigned found = 0, skipped = 0, values = 0, open = 0;
    for (guint i = 0; i < guesses->len; i++) {
        const Guess *g = guesses->pdata[i];
        if (i == 0 || g->column != ((Guess *)guesses->pdata[i - 1])->column)
            g->field ? found++ : skipped++;
        if (g->source_value)
            g->value ? values++ : open++;
    }
    char *file = out ? g_path_get_basename(out) : g_strdup("FILE");
    g_printerr(
        "%s: heading on line %u, rows looked at: %zu, columns parted by %s\n"
        "columns: %u matched with fields, %u left blank (skipped unread); values: %u matched, "
        "%u left blank (unknown)\n"
        "read each row before you use the draft: delete or correct what is wrong, put it into "
        "the network's folder and name it in network.ini there, with the unit whose log this "
        "is:\n[log %s]\nmapping = %s\nrecorded_by = UNIT\n",
        input->name, sample->heading_row, sample->rows,
        sample->delimiter == ','   ? "commas"
        : sample->delimiter == ';' ? "semicolons"
                                   : "tabs",
        found, skipped, values, open, input->name, file);
    const char separator = guess_separator(sample, guesses);
    if (separator)
        g_printerr("list_separator = %c\n", separator);
    g_free(file);
    say_lacking(guesses);
}

// The codes of a field below its line, in lines of no more than `WIDTH` bytes.
static void append_codes(GString *text, const CodeList *list) {
    enum { INDENT = 23, WIDTH = 100 };
    gsize line = WIDTH;
    for (unsigned i = 0; i < list->n; i++) {
        const char *code = list->codes[i].code;
        const gsize length = strlen(code) + 2; // with the comma and the space
        if (line + length > WIDTH) {
            g_string_append_printf(text, "\n%*s", INDENT, "");
            line = INDENT;
        } else {
            g_string_append_c(text, ' ');
        }
        g_string_append_printf(text, "%s%s", code, i + 1 < list->n ? "," : "");
        line += length;
    }
}

// What a mapping may name.
static char *fields(void) {
    GString *text = g_string_new("Fields and their codes:\n");
    for (int f = 0; f < FIELD_STORED; f++) {
        const Field *field = &field_table[f];
        g_string_append_printf(text, "  %-20s %s", field->name, field->description);
        if (field->kind == KIND_CODE || field->kind == KIND_EVENTS)
            append_codes(text, field->codes);
        g_string_append_c(text, '\n');
    }
    g_string_append(text, "  harm                 degree of the record's events that have none");
    append_codes(text, &field_harm);
    return g_string_free(text, FALSE);
}

static const SessionCommand command = {
    .arguments = "LOG",
    .about = "Drafts the mapping of one foreign log: which column is likely which field, which "
             "value which code.",
    .uses = SESSION_NETWORK | SESSION_FORCE,
    .out = "file to write the draft into (standard output)",
    .place = "FILE",
    .words = 1,
    .closing = fields,
};

int map_run(int argc, char **argv, GError **error) {
    SessionOptions o = {0};
    Session a = {0};
    int code = COMMAND_USAGE;
    Sample *sample = NULL;
    (void)argc;
    if (session_parse(argv, &command, &o, error))
        code = session_load(&o, &a, error);
    if (code == COMMAND_DONE && !*error && a.inputs->len != 1) {
        g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_FAILED, "takes one log at a time, not %u",
                    a.inputs->len);
        code = COMMAND_USAGE;
    }
    if (code == COMMAND_DONE && o.out && !o.force && g_file_test(o.out, G_FILE_TEST_IS_REGULAR)) {
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_EXIST,
                    "%s is there already, maybe corrected by hand; --force replaces it", o.out);
        code = COMMAND_OUTPUT;
    }
    if (code == COMMAND_DONE && !*error) {
        sample = sample_read(a.inputs->pdata[0], a.network, ROWS_LOOKED_AT, error);
        code = sample ? COMMAND_DONE : COMMAND_INPUT;
    }
    if (sample) {
        GPtrArray *guesses = guess_mapping(sample);
        GString *text = draft(sample, guesses);
        if (!write_text(o.out, text, error))
            code = COMMAND_OUTPUT;
        else if (!o.quiet)
            say(a.inputs->pdata[0], sample, guesses, o.out);
        g_string_free(text, TRUE);
        g_ptr_array_unref(guesses);
    }
    sample_free(sample);
    session_clear(&a);
    session_clear_options(&o);
    return code;
}
