// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of the report and their two written forms.
#include "pack/sheet.h"

#include "pack/html.h"

#include <math.h>
#include <string.h>

static void clear_column(gpointer data) {
    g_free(((SheetColumn *)data)->title);
}

static void clear_cell(gpointer data) {
    g_free(((SheetCell *)data)->text);
}

Sheet *sheet_new(const char *caption) {
    Sheet *s = g_new0(Sheet, 1);
    s->caption = g_strdup(caption);
    s->columns = g_array_new(FALSE, FALSE, sizeof(SheetColumn));
    s->cells = g_array_new(FALSE, FALSE, sizeof(SheetCell));
    g_array_set_clear_func(s->columns, clear_column);
    g_array_set_clear_func(s->cells, clear_cell);
    return s;
}

void sheet_free(Sheet *s) {
    if (!s)
        return;
    g_free(s->caption);
    g_array_unref(s->columns);
    g_array_unref(s->cells);
    g_free(s);
}

void sheet_column(Sheet *s, const char *title, SheetKind kind, WordsUnit unit) {
    const SheetColumn c = {g_strdup(title), kind, unit};
    g_array_append_val(s->columns, c);
}

static void add(Sheet *s, char *text, double value, double lower, double upper) {
    const SheetCell c = {text, value, lower, upper};
    g_array_append_val(s->cells, c);
}

void sheet_text(Sheet *s, const char *text) {
    add(s, g_strdup(text), NAN, NAN, NAN);
}

void sheet_number(Sheet *s, double value) {
    add(s, NULL, value, NAN, NAN);
}

void sheet_interval(Sheet *s, double estimate, double lower, double upper) {
    add(s, NULL, estimate, lower, upper);
}

guint sheet_rows(const Sheet *s) {
    return s->columns->len ? s->cells->len / s->columns->len : 0;
}

static const SheetCell *cell_at(const Sheet *s, guint row, guint column) {
    return &g_array_index(s->cells, SheetCell, row * s->columns->len + column);
}

// Decimals for the figures of a column.
static int decimals_of(const Sheet *s, guint column) {
    const WordsUnit unit = g_array_index(s->columns, SheetColumn, column).unit;
    double largest = NAN, smallest = NAN;
    for (guint r = 0; r < sheet_rows(s); r++) {
        const double value = fabs(cell_at(s, r, column)->value);
        largest = fmax(largest, value);
        smallest = value > 0 ? fmin(smallest, value) : smallest;
    }
    return words_decimals_between(unit, smallest, largest);
}

static char *cell_text(const Sheet *s, guint row, guint column, int decimals) {
    const SheetColumn *c = &g_array_index(s->columns, SheetColumn, column);
    const SheetCell *cell = cell_at(s, row, column);
    if (cell->text)
        return g_strdup(cell->text);
    return c->kind == SHEET_INTERVAL
               ? words_interval(c->unit, cell->value, cell->lower, cell->upper, decimals)
               : words_figure(c->unit, cell->value, decimals);
}

static int *all_decimals(const Sheet *s) {
    int *decimals = g_new(int, s->columns->len + 1);
    for (guint c = 0; c < s->columns->len; c++)
        decimals[c] = decimals_of(s, c);
    return decimals;
}

static glong longest_word(const char *text) {
    char **words = g_strsplit(text, " ", -1);
    glong longest = 0;
    for (char **w = words; *w; w++)
        longest = MAX(longest, g_utf8_strlen(*w, -1));
    g_strfreev(words);
    return longest;
}

guint sheet_width(const Sheet *s) {
    guint width = 0;
    for (guint c = 0; c < s->columns->len; c++) {
        const int decimals = decimals_of(s, c);
        glong longest = longest_word(g_array_index(s->columns, SheetColumn, c).title);
        for (guint r = 0; r < sheet_rows(s); r++) {
            char *text = cell_text(s, r, c, decimals);
            longest = MAX(longest, g_utf8_strlen(text, -1));
            g_free(text);
        }
        width += (guint)longest;
    }
    return width;
}

static void html_row(GString *out, const Sheet *s, guint row, const int *decimals) {
    g_string_append(out, "<tr>");
    for (guint c = 0; c < s->columns->len; c++) {
        char *text = cell_text(s, row, c, decimals[c]);
        const bool words = g_array_index(s->columns, SheetColumn, c).kind == SHEET_TEXT;
        g_string_append(out, c == 0  ? "<th scope=\"row\">"
                             : words ? "<td class=\"words\">"
                                     : "<td>");
        html_escape(out, text);
        g_string_append(out, c == 0 ? "</th>" : "</td>");
        g_free(text);
    }
    g_string_append(out, "</tr>\n");
}

enum { SHORT = 24 }; // characters of row heads that are worth a line of their own

// Whether all row heads are short: then they are not broken where there is room for whole lines.
static bool has_short_heads(const Sheet *s) {
    glong longest = 0;
    for (guint r = 0; r < sheet_rows(s); r++) {
        char *text = cell_text(s, r, 0, 0);
        longest = MAX(longest, g_utf8_strlen(text, -1));
        g_free(text);
    }
    return longest <= SHORT;
}

void sheet_html(GString *out, const Sheet *s) {
    int *decimals = all_decimals(s);
    g_string_append(out,
                    "<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"Table: ");
    html_escape(out, s->caption);
    g_string_append_printf(out, "\">\n<table%s><caption>",
                           has_short_heads(s) ? " class=\"short-heads\"" : "");
    html_escape(out, s->caption);
    g_string_append(out, "</caption>\n<thead><tr>");
    for (guint c = 0; c < s->columns->len; c++) {
        const SheetColumn *column = &g_array_index(s->columns, SheetColumn, c);
        g_string_append(out, column->kind == SHEET_TEXT ? "<th scope=\"col\" class=\"words\">"
                                                        : "<th scope=\"col\">");
        html_escape(out, column->title);
        g_string_append(out, "</th>");
    }
    g_string_append(out, "</tr></thead>\n<tbody>\n");
    for (guint r = 0; r < sheet_rows(s); r++)
        html_row(out, s, r, decimals);
    g_string_append(out, "</tbody></table></div>\n");
    g_free(decimals);
}

void sheet_markdown_text(GString *out, const char *text) {
    for (const char *p = text; *p; p++) {
        if (strchr("\\|`*_[]<>#&~", *p))
            g_string_append_c(out, '\\');
        g_string_append_c(out, (unsigned char)*p < 32 ? ' ' : *p);
    }
}

void sheet_markdown(GString *out, const Sheet *s) {
    int *decimals = all_decimals(s);
    g_string_append(out, "**");
    sheet_markdown_text(out, s->caption);
    g_string_append(out, "**\n\n|");
    for (guint c = 0; c < s->columns->len; c++) {
        g_string_append_c(out, ' ');
        sheet_markdown_text(out, g_array_index(s->columns, SheetColumn, c).title);
        g_string_append(out, " |");
    }
    g_string_append(out, "\n|");
    for (guint c = 0; c < s->columns->len; c++)
        g_string_append(out, g_array_index(s->columns, SheetColumn, c).kind == SHEET_TEXT
                                 ? " --- |"
                                 : " ---: |");
    g_string_append_c(out, '\n');
    for (guint r = 0; r < sheet_rows(s); r++) {
        g_string_append(out, "|");
        for (guint c = 0; c < s->columns->len; c++) {
            char *text = cell_text(s, r, c, decimals[c]);
            g_string_append_c(out, ' ');
            sheet_markdown_text(out, text);
            g_string_append(out, " |");
            g_free(text);
        }
        g_string_append_c(out, '\n');
    }
    g_free(decimals);
}
