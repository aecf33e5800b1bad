// SPDX-License-Identifier: GPL-3.0-or-later
// Shapes of logs: delimiter, heading, decimals, encodings. What each log means stands beside it;
// encoded bytes are written out by hand from the code charts of Unicode and Windows-1252.
#include "intake.h"

#include "intake/shape.h"

#include <stdlib.h>

static bool knows(const char *name, void *data) {
    (void)data;
    return field_find(name, strlen(name)) < FIELD_STORED;
}

// Delimiter, line of the heading and its first two cells: "; 3 a b"; or why there is none.
static char *shape(const char *text, const LogSettings *settings) {
    static const LogSettings none = {0};
    uint32_t line = 0;
    GError *error = NULL;
    Shape *s = shape_find(text, strlen(text), true, settings ? settings : &none, knows, NULL, &line,
                          &error);
    char *said;
    if (s) {
        g_ptr_array_add(s->heads, g_strdup(""));
        ck_assert_str_eq(
            text + s->bytes - (s->bytes == strlen(text) ? 0 : 1),
            s->bytes == strlen(text) ? "" : strchr(text + s->bytes - 1, text[s->bytes - 1]));
        said = g_strdup_printf("%c %u %s %s", s->delimiter, s->heading_row,
                               (char *)s->heads->pdata[0], (char *)s->heads->pdata[1]);
    } else
        said = g_strdup_printf("%u: %s", line, error->message);
    g_clear_error(&error);
    shape_free(s);
    return said;
}

static void is(const char *text, const LogSettings *settings, const char *expected) {
    char *said = shape(text, settings);
    ck_assert_str_eq(said, expected);
    g_free(said);
}

START_TEST(delimiters) {
    is("sending_unit,requested_at\nA,2031-01-01T00:00\n", NULL, ", 1 sending_unit requested_at");
    is("sending_unit;requested_at\nA;2031-01-01T00:00\n", NULL, "; 1 sending_unit requested_at");
    is("sending_unit\trequested_at\nA\t2031-01-01T00:00\n", NULL, "\t 1 sending_unit requested_at");
    is("sending_unit\nA\n", NULL, ", 1 sending_unit ");
    // names that nobody knows: rows of even width show it
    is("From;To\nA;1,5\nB;2\n", NULL, "; 1 From To");
    is("\xEF\xBB\xBF\"From\",To\n\"A;B\",1\nB,2\n", NULL, ", 1 From To");
}
END_TEST

START_TEST(delimiters_in_doubt) {
    const char *why = "1: cells may be parted by more than one sign; say which in network.ini: "
                      "delimiter = comma, semicolon or tab";
    is("From;To,When\nA;1,5\nB;2,6\n", NULL, why);
    const LogSettings semicolon = {.delimiter = ';'};
    is("From;To,When\nA;1,5\nB;2,6\n", &semicolon, "; 1 From To,When");
}
END_TEST

START_TEST(headings) {
    is("\n   \nsending_unit,requested_at\nA,2031-01-01T00:00\n", NULL,
       ", 3 sending_unit requested_at");
    is("Transfers of the network\nmade by hand, twice\n\nsending_unit,requested_at\nA,2031\n", NULL,
       ", 4 sending_unit requested_at");
    is("Log;;\n;;\nFrom;To;When\nA;B;1\nB;C;2\nC;D;3\n", NULL, "; 3 From To");
    is("From;;When\nA;B;1\nB;C;2\nC;D;3\n", NULL, "; 1 From ");
    const char *record = "1: this row looks like a record, and no heading was found: write a "
                         "heading above the records, or say on which line it stands (header_row in "
                         "network.ini)";
    is("A;B;2031-01-01 10:00\nB;C;2031-01-02 11:00\n", NULL, record);
    is("A;B;943 476 5919\nB;C;x\n", NULL, record);
    is("Log\nFrom;To;When\nA;B;1\nB;C;2\nC;D;3\nD;E;4\n", NULL, "; 2 From To");
    const LogSettings third = {.header_row = 3};
    is("Log;;\n;;\nFrom;To;When\nA;B;1\nB;C;2\nC;D;3\n", &third, "; 3 From To");
    const LogSettings far = {.header_row = 30};
    is("From,To\nA,B\n", &far, "30: header_row in network.ini names no row near the top");
    is("", NULL, "1: the file has no heading");
    is("\n \n\n", NULL, "1: the file has no heading");
    is("\"From\"x,To\nA,B\n", NULL, "1: a quote in the heading is broken");
    is("\"From,To\nA,B\n", NULL, "1: the file has no heading");
}
END_TEST

static char decimal(const char *text) {
    static const LogSettings none = {0};
    const bool is_number[] = {false, true};
    uint32_t line;
    Shape *s = shape_find(text, strlen(text), true, &none, knows, NULL, &line, NULL);
    ck_assert(s != NULL);
    const char sign = shape_decimal(s, text, strlen(text), is_number, &line, NULL);
    shape_free(s);
    return sign;
}

START_TEST(decimals) {
    ck_assert_int_eq(decimal("reason;distance_km\n1,5;12.5\n"), '.');
    ck_assert_int_eq(decimal("reason;distance_km\n1.5;12,5\n"), ',');
    ck_assert_int_eq(decimal("reason;distance_km\n1.5;0,125\n"), ','); // no thousands begin with 0
    ck_assert_int_eq(decimal("reason;distance_km\n1.5;1234,125\n"), ',');
    ck_assert_int_eq(decimal("reason,distance_km\nx,\"12,5\"\n"), ',');
    ck_assert_int_eq(decimal("reason;distance_km\nx;1,500\nx;7\n"), 0); // 1.5 or 1500
    ck_assert_int_eq(decimal("reason;distance_km\nx;1,500\nx;7,5\n"), ',');
    ck_assert_int_eq(decimal("reason;distance_km\nx;7\nx;\n"), '.');
    ck_assert_int_eq(decimal("reason;distance_km\nx;12,5\nx;13.5\n"), '.'); // one is a slip
    ck_assert_int_eq(decimal("reason;distance_km\nx;1.5\nx;1,5\nx;2,5\nx;3,5\nx;4,5\nx;5,5\n"
                             "x;6,5\nx;7,5\nx;8,5\nx;9,5\n"),
                     ',');
}
END_TEST

static void reads(const char *text, size_t n, const char *ini, const char *expected) {
    const size_t chunks[] = {1, 2, 3, 7, 64, 0};
    for (size_t c = 0; c < G_N_ELEMENTS(chunks); c++) {
        Reading *r = intake_read(text, n, ini, 2, chunks[c]);
        char *got = intake_text(r);
        ck_assert_msg(strcmp(got, expected) == 0, "pieces of %zu:\n%s", chunks[c], got);
        g_free(got);
        intake_free(r);
    }
}
#define READS(text, ini, expected) reads(text, sizeof text - 1, ini, expected)

#define HEAD "sending_unit,transfer_date\n"
#define ONE "sending_unit=H\xC3\xB4pital transfer_date=2031-01-02\n" // o with circumflex, U+00F4

START_TEST(utf8) {
    READS("\xEF\xBB\xBF" HEAD "H\xC3\xB4pital,2031-01-02\n", NULL, "2: " ONE "1 rows\n");
    READS("\xEF\xBB\xBF\"sending_unit\",transfer_date\r\nH\xC3\xB4pital,2031-01-02\r\n",
          "[log *]\nencoding=utf-8\n", "2: " ONE "1 rows\n");
    READS(HEAD "H\xF4pital,2031-01-02\n", "[log *]\nencoding=utf-8\n",
          "refused: log.csv:2: not UTF-8, as network.ini says it is\n0 rows\n");
}
END_TEST

START_TEST(windows_1252) {
    READS(HEAD "H\xF4pital,2031-01-02\n", NULL, "2: " ONE "1.0 note encoding \n1 rows\n");
    READS(HEAD "H\xF4pital,2031-01-02\n", "[log *]\nencoding=windows-1252\n", "2: " ONE "1 rows\n");
    // the euro sign is 0x80 in Windows-1252, U+20AC
    READS(HEAD "\x80,2031-01-02\n", NULL,
          "2: sending_unit=\xE2\x82\xAC transfer_date=2031-01-02\n1.0 note encoding \n1 rows\n");
    // 0x81 is no character of Windows-1252
    READS(HEAD "A,2031-01-02\n\x81,2031-01-02\n", NULL,
          "refused: log.csv:3: neither UTF-8 nor Windows-1252; say which encoding it is in "
          "network.ini, for example encoding = iso-8859-15\n0 rows\n");
    // one name is UTF-8, one is not: whichever comes first
    READS(HEAD "H\xF4pital,2031-01-02\nH\xC3\xB4pital,2031-01-02\n", NULL,
          "refused: log.csv:3: some of this log is UTF-8 and some is not; say which encoding it is "
          "in network.ini, for example encoding = windows-1252\n0 rows\n");
    READS(HEAD "H\xC3\xB4pital,2031-01-02\r\nH\xF4pital,2031-01-02\r\n", NULL,
          "refused: log.csv:3: some of this log is UTF-8 and this is not; say which encoding it is "
          "in network.ini, for example encoding = windows-1252\n0 rows\n");
}
END_TEST

// UTF-16 of an ASCII text with U+00F4 for each '^': the low byte first, or the high one.
static GString *wide(const char *text, bool low_first, bool mark) {
    GString *s = g_string_new(NULL);
    if (mark)
        g_string_append_len(s, low_first ? "\xFF\xFE" : "\xFE\xFF", 2);
    for (; *text; text++) {
        const char c = *text == '^' ? '\xF4' : *text;
        g_string_append_c(s, low_first ? c : 0);
        g_string_append_c(s, low_first ? 0 : c);
    }
    return s;
}

START_TEST(utf16) {
    for (int way = 0; way < 4; way++) {
        GString *s = wide("sending_unit,transfer_date\r\nH^pital,2031-01-02\r\n", way & 1, way & 2);
        reads(s->str, s->len, NULL, "2: " ONE "1.0 note encoding \n1 rows\n");
        if (way & 1)
            reads(s->str, s->len, "[log *]\nencoding=utf-16le\n", "2: " ONE "1 rows\n");
        g_string_append_c(s, 'x'); // half a character
        Reading *r = intake_read(s->str, s->len, NULL, 1, 0);
        ck_assert(g_error_matches(r->error, READER_ERROR, READER_ERROR_REFUSED));
        intake_free(r);
        g_string_free(s, TRUE);
    }
    READS(HEAD "A\0B,2031-01-02\n", NULL,
          "refused: log.csv:2: a NUL byte: this is no text, or say which encoding it is in "
          "network.ini, for example encoding = utf-16le\n0 rows\n");
}
END_TEST

START_TEST(no_records) {
    READS("Log of the year\n\nsending_unit;transfer_date;distance_km\n"
          "A;2031-01-02;12,5\n"
          ";;\n"
          "Subtotal;;12,5\n"
          "sending_unit;transfer_date;distance_km\n"
          "B;2031-01-03;0,5\n"
          "Total;;13\n"
          "Total\n"
          "made by hand\n"
          "Totalcross;2031-01-04;x\n",
          NULL,
          "4: sending_unit=A transfer_date=2031-01-02 distance_km=12.5\n"
          "8: sending_unit=B transfer_date=2031-01-03 distance_km=0.5\n"
          "12: sending_unit=Totalcross transfer_date=2031-01-04\n"
          "3.0 note decimal \n"
          "3.0 note delimiter \n"
          "3.0 note heading-row \n"
          "6.0 severe total \n"
          "7.0 severe heading \n"
          "9.0 severe total \n"
          "10.0 severe total \n"
          "11.0 severe note \n"
          "12.3 lost number-impossible x\n"
          "6 aside total [Subtotal;;12,5]\n"
          "7 aside heading [sending_unit;transfer_date;distance_km]\n"
          "9 aside total [Total;;13]\n"
          "10 aside total [Total]\n"
          "11 aside note [made by hand]\n"
          "8 rows\n");
}
END_TEST

START_TEST(refused) {
    READS("sending_unit,sending unit,transfer_date\nA,B,2031-01-02\n", NULL,
          "refused: log.csv:1: columns 1 and 2 are both sending_unit\n0 rows\n");
    READS("sending_unit,transfer_date,distance_km\nA,2031-01-02,\"1,500\"\n", NULL,
          "refused: log.csv:1: decimals as 1,500 may be 1.5 or 1500; write the numbers without "
          "thousands, or say "
          "decimal = comma in network.ini\n0 rows\n");
    READS("sending_unit,transfer_date,distance_km\nA,2031-01-02,\"1,500\"\n",
          "[log l?g.csv]\ndecimal=comma\n",
          "2: sending_unit=A transfer_date=2031-01-02 distance_km=1.5\n1 rows\n");
}
END_TEST

int main(void) {
    Suite *suite = suite_create("intake: shape");
    TCase *tests = tcase_create("all");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, delimiters);
    tcase_add_test(tests, delimiters_in_doubt);
    tcase_add_test(tests, headings);
    tcase_add_test(tests, decimals);
    tcase_add_test(tests, utf8);
    tcase_add_test(tests, windows_1252);
    tcase_add_test(tests, utf16);
    tcase_add_test(tests, no_records);
    tcase_add_test(tests, refused);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
