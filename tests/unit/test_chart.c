// SPDX-License-Identifier: GPL-3.0-or-later
// Charts: text from a log reaches gnuplot as text and nothing else; the real gnuplot draws.
#include "pack/gnuplot.h"
#include "pack/svg.h"

#include <check.h>
#include <glib/gstdio.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

// Each would run a program, open a file or break the script if it were taken for gnuplot's words.
static const char *const hostile[] = {
    "`touch canary`",
    "\"; system('touch canary') #",
    "\\",
    "\\\"`touch canary`",
    "a\n! touch canary",
    "'; shell",
    "@cmd",
    "{/Foo\" onload=\"x}",
    "%d %s %n",
    "<script>alert(1)</script>",
    "\xFF\xFE broken",
    "$(touch canary)",
    "\033[2J",
    "a & b < c",
    "|touch canary",
    "< touch canary",
};

static Chart *chart_of(const char *text, const char *name) {
    static const ChartFrame frame = {CHART_WIDTH, 60, 20, 10, 30, 100};
    Chart *c = chart_new("trend.gp", text, text, &frame);
    const double at[] = {0, 1};
    const char *const tics[] = {text, text};
    chart_tics(c, 'x', 2, at, tics);
    chart_range(c, 'x', 0, 1);
    chart_range(c, 'y', 0, 2);
    for (int i = 0; i < 2; i++) {
        const double row[] = {i, 1, 0.5, i ? NAN : 1.5, 0};
        chart_row(c, 5, row);
    }
    c->name = g_strdup(name);
    c->finding = g_strdup(text);
    return c;
}

static char *folder_new(void) {
    char *folder = g_dir_make_tmp("chart-test-XXXXXX", NULL);
    ck_assert_ptr_nonnull(folder);
    return folder;
}

static void folder_remove(char *folder) {
    GDir *dir = g_dir_open(folder, 0, NULL);
    for (const char *name; (name = g_dir_read_name(dir));) {
        char *path = g_build_filename(folder, name, NULL);
        g_unlink(path);
        g_free(path);
    }
    g_dir_close(dir);
    ck_assert_int_eq(g_rmdir(folder), 0);
    g_free(folder);
}

// The text of the element that begins at `at` (with `open`), entities resolved.
static char *element_text(const char *at, const char *open) {
    const char *end = strstr(at, "</");
    char *text = g_strndup(at + strlen(open), (gsize)(end - at) - strlen(open));
    static const char *const entity[][2] = {
        {"&lt;", "<"}, {"&gt;", ">"}, {"&quot;", "\""}, {"&#39;", "'"}, {"&amp;", "&"}};
    for (unsigned i = 0; i < G_N_ELEMENTS(entity); i++) {
        char **parts = g_strsplit(text, entity[i][0], -1);
        g_free(text);
        text = g_strjoinv(entity[i][1], parts);
        g_strfreev(parts);
    }
    return text;
}

// How many of a picture's texts are exactly this one.
static int texts_equal(const char *svg, const char *text) {
    int n = 0;
    for (const char *at = svg; (at = strstr(at, "<text>")); at++) {
        char *drawn = element_text(at, "<text>");
        n += strcmp(drawn, text) == 0;
        g_free(drawn);
    }
    return n;
}

START_TEST(hostile_text_stays_text) {
    GPtrArray *charts = g_ptr_array_new_with_free_func((GDestroyNotify)chart_free);
    for (unsigned i = 0; i < G_N_ELEMENTS(hostile); i++) {
        char name[16];
        g_snprintf(name, sizeof name, "h%u", i);
        g_ptr_array_add(charts, chart_of(hostile[i], name));
    }
    char *folder = folder_new();
    GError *error = NULL;
    ck_assert_msg(gnuplot_draw(charts, folder, &error), "%s", error ? error->message : "");
    char *canary = g_build_filename(folder, "canary", NULL);
    ck_assert(!g_file_test(canary, G_FILE_TEST_EXISTS));
    for (unsigned i = 0; i < charts->len; i++) {
        const Chart *c = charts->pdata[i];
        ck_assert(!g_regex_match_simple("<[^>]*(onload|script)", c->svg, 0, 0));
        ck_assert_ptr_null(strstr(c->svg, "<title>")); // of a plot
        if (!g_utf8_validate(hostile[i], -1, NULL) || strpbrk(hostile[i], "\n\033"))
            continue;
        char *title = element_text(strstr(c->svg, "<title id="), "<title id=\"t\">");
        ck_assert_str_eq(title, hostile[i]);
        ck_assert_int_eq(texts_equal(c->svg, hostile[i]), 4); // title, subtitle, two tics
        g_free(title);
    }
    g_free(canary);
    folder_remove(folder);
    g_ptr_array_unref(charts);
}
END_TEST

// What a script that got past the quoting could still do: nothing.
START_TEST(fence_holds) {
    GPtrArray *charts = g_ptr_array_new_with_free_func((GDestroyNotify)chart_free);
    Chart *c = chart_of("x", "fenced");
    g_string_append(c->head, "system(\"touch canary\")\n");
    g_string_append(c->head, "x = system(\"touch canary; echo 1\")\n");
    g_ptr_array_add(charts, c);
    char *folder = folder_new(), *canary = g_build_filename(folder, "canary", NULL);
    GError *error = NULL;
    gnuplot_draw(charts, folder, &error);
    g_clear_error(&error);
    ck_assert(!g_file_test(canary, G_FILE_TEST_EXISTS));
    g_free(canary);
    folder_remove(folder);
    g_ptr_array_unref(charts);
}
END_TEST

START_TEST(same_charts_same_bytes) {
    char *svg[2];
    for (int round = 0; round < 2; round++) {
        GPtrArray *charts = g_ptr_array_new_with_free_func((GDestroyNotify)chart_free);
        for (int i = 0; i < (round ? 40 : 3); i++) { // 40: shared by two processes
            char name[16];
            g_snprintf(name, sizeof name, "c%d", i);
            g_ptr_array_add(charts, chart_of("A finding", name));
        }
        char *folder = folder_new();
        ck_assert(gnuplot_draw(charts, folder, NULL));
        svg[round] = g_strdup(((Chart *)charts->pdata[round ? 1 : 2])->svg);
        folder_remove(folder);
        g_ptr_array_unref(charts);
    }
    ck_assert_str_eq(svg[0], svg[1]);
    g_free(svg[0]);
    g_free(svg[1]);
}
END_TEST

START_TEST(failures_are_said) {
    GPtrArray *charts = g_ptr_array_new_with_free_func((GDestroyNotify)chart_free);
    Chart *c = chart_of("x", "broken");
    g_string_append(c->head, "no such command\n");
    g_ptr_array_add(charts, c);
    char *folder = folder_new();
    GError *error = NULL;
    ck_assert(!gnuplot_draw(charts, folder, &error));
    ck_assert(g_error_matches(error, GNUPLOT_ERROR, GNUPLOT_ERROR_FAILED));
    g_clear_error(&error);
    folder_remove(folder);
    g_ptr_array_unref(charts);
}
END_TEST

// A whole picture, and the same with a piece lost: at the end, amid a tag, a tag, an entity and
// more.
START_TEST(a_lost_piece_is_noticed) {
    static const char whole[] = "<?xml version=\"1.0\"?>\n<svg>\n<g><text a=\"1\">a &lt; b</text>\n"
                                "</g>\n</svg>\n";
    static const char *const holes[] = {
        "</svg>", "ext a=\"1", "</g>", "<g>", "t; b</tex", "a=\"1\">a ",
    };
    char *text = svg_finish(whole, strlen(whole), "t", "d", NULL);
    ck_assert_ptr_nonnull(text);
    g_free(text);
    for (unsigned i = 0; i < G_N_ELEMENTS(holes); i++) {
        char **rest = g_strsplit(whole, holes[i], 2);
        char *holed = g_strjoinv("", rest);
        GError *error = NULL;
        ck_assert_uint_lt(strlen(holed), strlen(whole));
        ck_assert_msg(!svg_finish(holed, strlen(holed), "t", "d", &error), "without %s", holes[i]);
        ck_assert_ptr_nonnull(error);
        g_clear_error(&error);
        g_free(holed);
        g_strfreev(rest);
    }
    ck_assert_ptr_null(svg_finish("<svg>\0</svg>", 12, "t", "d", NULL)); // a NUL
}
END_TEST

START_TEST(only_drawing_is_rewritten) {
    static const char drawn[] =
        "<?xml version=\"1.0\"?>\n<svg \n xmlns=\"http://www.w3.org/2000/svg\"\n>\n"
        "<g color=\"red\">\n</g>\n<g id=\"p\" ><title>data using 1:2</title>\n"
        "<g font-family=\"Inter\" font-weight=\"bold\">\n"
        "\t<text>A font-family=\"Inter\" font-weight=\"bold\"</text>\n</g>\n</g>\n</svg>\n";
    char *text = svg_finish(drawn, strlen(drawn), "t", "d", NULL);
    ck_assert_ptr_nonnull(text);
    ck_assert_ptr_nonnull(strstr(text,
                                 "<g id=\"p\" >\n<g font-weight=\"600\">\n"
                                 "<text>A font-family=\"Inter\" font-weight=\"bold\"</text>"));
    ck_assert_ptr_nonnull(
        strstr(text, "role=\"img\" aria-labelledby=\"t d\" font-family=\"Inter, "));
    ck_assert_ptr_null(strstr(text, "color=\"red\"")); // nothing is in that group
    g_free(text);
}
END_TEST

START_TEST(texts_fit) {
    char *cut = chart_fit("A name that is far too long for the room that it has", 13, 100);
    ck_assert(chart_text_width(cut, 13) <= 100);
    ck_assert(g_str_has_suffix(cut, "…"));
    g_free(cut);
    char *whole = chart_fit("Elm", 13, 100);
    ck_assert_str_eq(whole, "Elm");
    g_free(whole);
}
END_TEST

int main(void) {
    Suite *s = suite_create("chart");
    TCase *t = tcase_create("chart");
    tcase_set_timeout(t, 60);
    tcase_add_test(t, hostile_text_stays_text);
    tcase_add_test(t, fence_holds);
    tcase_add_test(t, same_charts_same_bytes);
    tcase_add_test(t, failures_are_said);
    tcase_add_test(t, a_lost_piece_is_noticed);
    tcase_add_test(t, only_drawing_is_rewritten);
    tcase_add_test(t, texts_fit);
    suite_add_tcase(s, t);
    SRunner *r = srunner_create(s);
    srunner_run_all(r, CK_ENV);
    const int failed = srunner_ntests_failed(r);
    srunner_free(r);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
