// SPDX-License-Identifier: GPL-3.0-or-later
// Composing a chart's script and data.
#include "pack/chart.h"

#include "base/decimal.h"
#include "base/embed.h"
#include "base/visible.h"
#include "pack/words.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

static int text_size(int width) {
    return width == CHART_NARROW ? 12 : 13;
}

static int title_size(int width) {
    return width == CHART_NARROW ? 13 : 16;
}

static void append_number(GString *out, double value) {
    char text[DECIMAL_SIZE];
    decimal_text(text, value, 9);
    g_string_append(out, *text ? text : "NaN");
}

void chart_quote(GString *out, const char *text) {
    char *valid = g_utf8_make_valid(text, -1);
    g_string_append_c(out, '"');
    for (const char *p = valid; *p; p = g_utf8_next_char(p)) {
        const gunichar c = g_utf8_get_char(p);
        if (g_unichar_iscntrl(c) || c == 0xFFFE || c == 0xFFFF || c == 0x2028 || c == 0x2029 ||
            visible_turns(c))
            g_string_append(out, "\xEF\xBF\xBD");
        else {
            if (c == '\\' || c == '"' || c == '`')
                g_string_append_c(out, '\\');
            g_string_append_unichar(out, c);
        }
    }
    g_string_append_c(out, '"');
    g_free(valid);
}

// Widths of Inter in parts of the size, by class of letter: near enough to break lines.
static double letter_width(gunichar c) {
    if (c < 128 && strchr("ijl.,'|:;! ", (int)c))
        return 0.28;
    if (c < 128 && strchr("frt()[]/-1", (int)c))
        return 0.4;
    if (c < 128 && strchr("mwMW@%", (int)c))
        return 0.86;
    if (g_unichar_iswide(c))
        return 1.0;
    if (g_unichar_isupper(c) || g_unichar_isdigit(c))
        return 0.66;
    return g_unichar_iszerowidth(c) ? 0 : 0.59;
}

double chart_text_width(const char *text, int size) {
    char *valid = g_utf8_make_valid(text, -1);
    double width = 0;
    for (const char *p = valid; *p; p = g_utf8_next_char(p))
        width += letter_width(g_utf8_get_char(p));
    g_free(valid);
    return width * size;
}

char *chart_fit(const char *text, int size, double width) {
    char *valid = g_utf8_make_valid(text, -1);
    if (chart_text_width(valid, size) <= width)
        return valid;
    double used = size; // of the ellipsis
    const char *p = valid;
    while (*p && used + letter_width(g_utf8_get_char(p)) * size <= width) {
        used += letter_width(g_utf8_get_char(p)) * size;
        p = g_utf8_next_char(p);
    }
    char *cut = g_strdup_printf("%.*s…", (int)(p - valid), valid);
    g_free(valid);
    return cut;
}

// Whether no line is broken between two words: "12 %", "84 min", "3 h", "h 05".
static bool stick_together(const char *word, const char *next) {
    static const char *const units[] = {"%", "min", "h", "d"};
    const gsize length = strlen(word);
    if (length == 0 || !next)
        return false;
    if (g_ascii_isdigit(*next) && (g_str_equal(word, "h") || g_str_equal(word, "d")))
        return true;
    if (!g_ascii_isdigit(word[length - 1]))
        return false;
    for (guint i = 0; i < G_N_ELEMENTS(units); i++) {
        const gsize n = strlen(units[i]);
        if (strncmp(next, units[i], n) == 0 && !g_ascii_isalnum(next[n]))
            return true;
    }
    return false;
}

// Breaks a text at blanks into lines of at most that width.
static GPtrArray *wrap(const char *text, int size, double width) {
    GPtrArray *lines = g_ptr_array_new_with_free_func(g_free);
    char **words = g_strsplit(text, " ", -1);
    GString *line = g_string_new(NULL);
    for (char **w = words; *w; w++) {
        double longer = chart_text_width(line->str, size) + chart_text_width(*w, size) + 0.3 * size;
        for (char **next = w; stick_together(*next, next[1]); next++)
            longer += chart_text_width(next[1], size) + 0.3 * size;
        const bool sticks = w > words && stick_together(w[-1], *w);
        if (line->len && longer > width && !sticks) {
            g_ptr_array_add(lines, g_strdup(line->str));
            g_string_truncate(line, 0);
        }
        g_string_append_printf(line, "%s%s", line->len ? " " : "", *w);
    }
    g_ptr_array_add(lines, g_string_free(line, FALSE));
    g_strfreev(words);
    return lines;
}

// The same, the lines about equally long where there are two or more.
static GPtrArray *wrap_evenly(const char *text, int size, double width) {
    GPtrArray *lines = wrap(text, size, width);
    if (lines->len < 2)
        return lines;
    GPtrArray *even =
        wrap(text, size, fmin(width, chart_text_width(text, size) / lines->len * 1.15));
    const bool fits = even->len == lines->len;
    g_ptr_array_unref(fits ? lines : even);
    return fits ? even : lines;
}

// Writes lines from y px down; returns the y of the next line.
static int write_lines(Chart *c, const GPtrArray *lines, int size, bool bold, const char *colour,
                       int y) {
    for (guint i = 0; i < lines->len; i++, y += size + 5) {
        const ChartPlace at = {.x = CHART_EDGE,
                               .y = y,
                               .x_px = true,
                               .y_px = true,
                               .align = "left",
                               .colour = colour,
                               .size = size,
                               .bold = bold};
        chart_label(c, &at, lines->pdata[i]);
    }
    return y;
}

static void set_margins(Chart *c, const ChartFrame *f) {
    c->left = f->left;
    c->right = f->right;
    c->tall = f->height;
    const double part[] = {(double)f->left / c->width, 1 - (double)f->right / c->width,
                           1 - (double)c->top / c->height, (double)f->bottom / c->height};
    static const char *const side[] = {"l", "r", "t", "b"};
    for (int i = 0; i < 4; i++) {
        g_string_append_printf(c->head, "set %smargin at screen ", side[i]);
        append_number(c->head, part[i]);
        g_string_append_c(c->head, '\n');
    }
}

static Chart *blank(const char *script, int width, const char *title, const char *subtitle) {
    Chart *c = g_new0(Chart, 1);
    c->script = script;
    c->width = width;
    c->text_size = text_size(width);
    c->title = g_strdup(title);
    c->subtitle = g_strdup(subtitle);
    c->head = g_string_new(NULL);
    c->data = g_string_new(NULL);
    return c;
}

Chart *chart_bare(const char *script, int width, int height) {
    Chart *c = blank(script, width, "", "");
    c->height = height;
    static const ChartFrame none = {0};
    set_margins(c, &none);
    return c;
}

Chart *chart_new(const char *script, const char *title, const char *subtitle,
                 const ChartFrame *frame) {
    Chart *c = blank(script, frame->width, title, subtitle);
    const int large = title_size(c->width), small = c->text_size;
    GPtrArray *heads = wrap_evenly(title, large, c->width - 2 * CHART_EDGE),
              *lines = wrap_evenly(subtitle, small, c->width - 2 * CHART_EDGE);
    c->titles = 14 + (int)heads->len * (large + 5) + (int)lines->len * (small + 5);
    c->top = c->titles + frame->top;
    c->height = c->top + frame->height + frame->bottom;
    const int y = write_lines(c, heads, large, true, "ink", 16);
    write_lines(c, lines, small, false, "grey", y);
    g_ptr_array_unref(heads);
    g_ptr_array_unref(lines);
    set_margins(c, frame);
    return c;
}

void chart_free(Chart *c) {
    if (!c)
        return;
    g_free(c->name);
    g_free(c->title);
    g_free(c->subtitle);
    g_free(c->finding);
    g_string_free(c->head, TRUE);
    g_string_free(c->data, TRUE);
    g_free(c->svg);
    g_free(c);
}

void chart_range(Chart *c, char axis, double from, double to) {
    g_string_append_printf(c->head, "set %crange [", axis);
    append_number(c->head, from);
    g_string_append_c(c->head, ':');
    append_number(c->head, to);
    g_string_append(c->head, "]\n");
}

void chart_tics(Chart *c, char axis, guint n, const double *at, const char *const *text) {
    if (n == 0) {
        g_string_append_printf(c->head, "unset %ctics\n", axis);
        return;
    }
    g_string_append_printf(c->head, "set %ctics (", axis);
    for (guint i = 0; i < n; i++) {
        if (i)
            g_string_append(c->head, ", ");
        char **parts = g_strsplit(text[i], "%", -1), *doubled = g_strjoinv("%%", parts);
        chart_quote(c->head, doubled); // a tic's text is a format
        g_free(doubled);
        g_strfreev(parts);
        g_string_append_c(c->head, ' ');
        append_number(c->head, at[i]);
    }
    g_string_append(c->head, ")\n");
}

void chart_rules(Chart *c, char axis) {
    g_string_append_printf(c->head, "set grid %ctics back lt 1 lw 1.2 lc rgb rule\n", axis);
}

static int plot_width(const Chart *c) {
    return c->width - c->left - c->right;
}

void chart_periods(Chart *c, guint n, const char *const *names) {
    double widest = 1, *at = g_new(double, n + 1);
    const char **shown = g_new0(const char *, n + 1);
    for (guint k = 0; k < n; k++)
        widest = fmax(widest, chart_text_width(names[k], c->text_size));
    const guint most = (guint)fmax(1, floor(plot_width(c) / (widest + 12))),
                step = (n + most - 1) / most;
    guint tics = 0;
    for (guint k = 0; k < n; k++)
        if ((n - 1 - k) % step == 0) {
            at[tics] = k;
            shown[tics++] = names[k];
        }
    chart_tics(c, 'x', tics, at, shown);
    g_free(at);
    g_free(shown);
}

void chart_doubling(Chart *c, double from, double to, guint n, const double *at,
                    const char *const *text) {
    double *kept = g_new(double, n + 1), free_from = -INFINITY;
    const char **names = g_new0(const char *, n + 1);
    guint tics = 0;
    for (guint k = 0; k < n; k++) {
        const double half = chart_text_width(text[k], c->text_size) / 2,
                     px = log(at[k] / from) / log(to / from) * plot_width(c);
        if (px - half < free_from)
            continue;
        free_from = px + half + 4;
        kept[tics] = at[k];
        names[tics++] = text[k];
    }
    chart_tics(c, 'x', tics, kept, names);
    chart_range(c, 'x', from, to);
    g_free(kept);
    g_free(names);
}

int chart_room(const Chart *c) {
    return MAX(2, plot_width(c) / 58);
}

void chart_axis_name(Chart *c, const char *text) {
    const ChartPlace place = {.x = c->left + plot_width(c) / 2.0,
                              .x_px = true,
                              .y = c->height - 8,
                              .y_px = true,
                              .align = "center",
                              .colour = "grey",
                              .size = 12};
    chart_label(c, &place, text);
}

void chart_plain_axis(Chart *c, char axis) {
    g_string_append_printf(c->head, "set grid no%ctics\n", axis);
}

// The round number (1, 2, 2.5 or 5 times a power of ten) at or above value.
static double round_up(double value) {
    static const double steps[] = {1, 2, 2.5, 5, 10};
    const double power = pow(10, floor(log10(value)));
    for (unsigned i = 0; i < G_N_ELEMENTS(steps); i++)
        if (steps[i] * power >= value * (1 - 1e-9))
            return steps[i] * power;
    return 10 * power;
}

double chart_steps(Chart *c, char axis, double to, int most, double scale, const char *unit) {
    const double top = isfinite(to) && to > 0 ? to * scale : 1, step = round_up(top / most);
    const int n = MAX(1, (int)ceil(top / step - 1e-9));
    double *at = g_new0(double, (gsize)n + 1);
    GPtrArray *text = g_ptr_array_new_with_free_func(g_free);
    for (int i = 0; i <= n; i++) {
        char short_of[G_ASCII_DTOSTR_BUF_SIZE];
        at[i] = i * step / scale;
        char *figure = i * step >= 1000
                           ? words_figure(WORDS_COUNT, i * step, 0)
                           : g_strdup(g_ascii_formatd(short_of, sizeof short_of, "%.6g", i * step));
        g_ptr_array_add(text, g_strconcat(figure, unit, NULL));
        g_free(figure);
    }
    chart_tics(c, axis, (guint)n + 1, at, (const char *const *)text->pdata);
    chart_rules(c, axis);
    const double last = at[n];
    g_ptr_array_unref(text);
    g_free(at);
    return last;
}

static void coordinate(GString *out, double value, bool px, int size, bool down) {
    g_string_append(out, px ? "screen " : "first ");
    append_number(out, !px ? value : down ? 1 - value / size : value / size);
}

void chart_label(Chart *c, const ChartPlace *p, const char *text) {
    g_string_append_printf(c->head, "set label %u ", ++c->labels);
    chart_quote(c->head, text);
    g_string_append(c->head, " at ");
    coordinate(c->head, p->x, p->x_px, c->width, false);
    g_string_append(c->head, ", ");
    coordinate(c->head, p->y, p->y_px, c->height, true);
    if (p->dx != 0) {
        g_string_append(c->head, " offset screen ");
        append_number(c->head, p->dx / c->width);
        g_string_append(c->head, ", 0");
    }
    if (p->rotate)
        g_string_append_printf(c->head, " rotate by %d", p->rotate);
    g_string_append_printf(c->head, " %s font \"Inter%s,%d\" tc rgb %s front\n", p->align,
                           p->bold ? " Bold" : "", p->size ? p->size : c->text_size, p->colour);
}

void chart_reference(Chart *c, char axis, double at) {
    GString *value = g_string_new(NULL);
    append_number(value, at);
    g_string_append(c->head, "set arrow from ");
    g_string_append_printf(c->head,
                           axis == 'x' ? "first %s, graph 0 to first %s, graph 1"
                                       : "graph 0, first %s to graph 1, first %s",
                           value->str, value->str);
    g_string_append(c->head, " nohead dt dashed lw 1.6 lc rgb ink front\n");
    g_string_free(value, TRUE);
}

void chart_leader(Chart *c, double x0, double y0, double x1, double y1) {
    const double at[] = {x0 / c->width, 1 - y0 / c->height, x1 / c->width, 1 - y1 / c->height};
    static const char *const words[] = {"set arrow from screen ", ", screen ", " to screen ",
                                        ", screen "};
    for (int i = 0; i < 4; i++) {
        g_string_append(c->head, words[i]);
        append_number(c->head, at[i]);
    }
    g_string_append(c->head, " nohead lw 1 lc rgb grey front\n");
}

void chart_set_text(Chart *c, const char *variable, const char *text) {
    g_string_append_printf(c->head, "%s = ", variable);
    chart_quote(c->head, text);
    g_string_append_c(c->head, '\n');
}

void chart_set(Chart *c, const char *variable, double value) {
    g_string_append_printf(c->head, "%s = ", variable);
    append_number(c->head, value);
    g_string_append_c(c->head, '\n');
}

double chart_where(bool drawn, double value) {
    return drawn ? value : NAN;
}

void chart_row(Chart *c, unsigned n, const double *values) {
    if (n == 0)
        g_string_append_c(c->data, '\n');
    for (unsigned i = 0; i < n; i++) {
        if (i)
            g_string_append_c(c->data, ' ');
        append_number(c->data, values[i]);
    }
    g_string_append_c(c->data, '\n');
}

static void append_part(GString *out, const char *name) {
    const char *text = embed_text(name);
    g_string_append(out, text ? text : "");
}

// The script; where: lines that say where the picture goes and where the data are.
static void append_script(GString *out, const Chart *c, const char *where) {
    g_string_append_printf(out,
                           "set terminal svg size %d,%d dynamic noenhanced font \"Inter,%d\" "
                           "background \"#ffffff\"\n%s",
                           c->width, c->height, c->text_size, where);
    append_part(out, "style.gp");
    g_string_append_len(out, c->head->str, (gssize)c->head->len);
    append_part(out, c->script);
    g_string_append(out, "unset output\n");
}

char *chart_script(const Chart *c) {
    GString *out = g_string_new(NULL);
    char *where = g_strdup_printf("set output \"%s.svg\"\ndata = \"%s.dat\"\n", c->name, c->name);
    g_string_append_printf(out, "# Redraws %s.svg: gnuplot %s.gp\nreset session\n", c->name,
                           c->name);
    append_part(out, "names.gp");
    append_script(out, c, where);
    g_free(where);
    return g_string_free(out, FALSE);
}

void chart_stream_begin(GString *out) {
    // the first plot of a process differs from later ones in an attribute: it is thrown away
    g_string_append(out, "set terminal svg\nset output\nplot [0:1] x\n");
    append_part(out, "names.gp");
}

void chart_stream(GString *out, const Chart *c) {
    // gnuplot writes its own standard output line by line, but a file that it opens block by block;
    // the data are numbers alone, so that no line of them ends the block
    char *where = g_strconcat("set output \"/proc/self/fd/1\"\n$data << end\n", c->data->str,
                              "end\ndata = \"$data\"\n", NULL);
    g_string_append_printf(out, "# %s\nreset\n", c->name);
    append_script(out, c, where);
    g_free(where);
}
