// SPDX-License-Identifier: GPL-3.0-or-later
// The reader: what it makes of a log is written down here by hand; any number of threads and any
// size of pieces must make the same of it.
#include "intake.h"

#include <stdlib.h>

#define HEAD "transfer_id,sending_unit,receiving_unit,requested_at,events,distance_km\n"

// Line ends of all kinds (RFC 4180 has CRLF; LF and CR are common practice), line breaks in quotes,
// doubled quotes, blank lines, ragged rows, the heading again, quotes that are broken.
static const char all_troubles[] =
    HEAD "T1,A,B,2031-03-09T14:05,none,12.5\n"
         "T2,\"B\nb\",C,2031-03-09T14:06,\"airway:low;delay\",1\r\n"
         "\n"
         "T3,C,\"say \"\"D\"\"\",2031-03-09T14:07,,\r"
         "   \n"
         "T4,C,D\n"
         "transfer_id,sending_unit,receiving_unit,requested_at,events,distance_km\r\n"
         "T5,C,D,2031-02-30T14:08,airway,x\n"
         "T6,\"C\",D,\"2031-03-09T14:09\",soon,3\n"
         "T7,C,5\" pipe,2031-03-09T14:10,none,4\n"
         "T8,C,D,2031-03-09T14:11,none,5\n"
         "T9,\"C\"x,D,2031-03-09T14:12,none,6\n"
         "T10,D,E,2031-03-09T14:13,\"near\r\nthe end\",7\r\n"
         "\r\n"
         "T11,E,E,2031-03-09T14:14,none,8\n"
         "T12,F,G,2031-03-09T14:15,\"none\",9";

static void check_any_way(const char *text, size_t n, const char *expected) {
    const size_t chunks[] = {1, 2, 3, 5, 8, 13, 21, 34, 55, 70, 89, 144, 233, 377, 610, 0};
    const unsigned threads[] = {1, 2, 5};
    for (size_t c = 0; c < G_N_ELEMENTS(chunks); c++)
        for (size_t t = 0; t < G_N_ELEMENTS(threads); t++) {
            Reading *r = intake_read(text, n, NULL, threads[t], chunks[c]);
            char *got = intake_text(r);
            ck_assert_msg(strcmp(got, expected) == 0, "pieces of %zu, %u threads:\n%s", chunks[c],
                          threads[t], got);
            ck_assert_uint_eq(r->input.bytes, n);
            g_free(got);
            intake_free(r);
        }
}

START_TEST(troubles) {
    check_any_way(
        all_troubles, sizeof all_troubles - 1,
        "2: transfer_id=@2 sending_unit=A receiving_unit=B requested_at=2031-03-09T14:05 "
        "events=none distance_km=12.5\n"
        "3: transfer_id=@3 sending_unit=B\nb receiving_unit=C requested_at=2031-03-09T14:06 "
        "events=airway:low;delay distance_km=1\n"
        "6: transfer_id=@6 sending_unit=C receiving_unit=say \"D\" "
        "requested_at=2031-03-09T14:07\n"
        "11: transfer_id=@11 sending_unit=C receiving_unit=D requested_at=2031-03-09T14:09 "
        "distance_km=3\n"
        "13: transfer_id=@13 sending_unit=C receiving_unit=D requested_at=2031-03-09T14:11 "
        "events=none distance_km=5\n"
        "15: transfer_id=@15 sending_unit=D receiving_unit=E requested_at=2031-03-09T14:13 "
        "distance_km=7\n"
        "19: transfer_id=@19 sending_unit=F receiving_unit=G requested_at=2031-03-09T14:15 "
        "events=none distance_km=9\n"
        "8.0 severe ragged \n"
        "9.0 severe heading \n"
        "10.0 severe no-date \n"
        "10.4 lost time-impossible 2031-02-30T14:08\n"
        "10.6 lost number-impossible x\n"
        "11.5 lost events-unknown \n"
        "12.0 severe quote \n"
        "14.0 severe quote \n"
        "15.5 lost events-unknown \n"
        "18.0 severe same-unit \n"
        "8 aside ragged [T4,C,D]\n"
        "9 aside heading "
        "[transfer_id,sending_unit,receiving_unit,requested_at,events,distance_km]\n"
        "10 aside no-date [T5,C,D,2031-02-30T14:08,airway,x]\n"
        "12 aside quote [T7,C,5\" pipe,2031-03-09T14:10,none,4]\n"
        "14 aside quote [T9,\"C\"x,D,2031-03-09T14:12,none,6]\n"
        "18 aside same-unit [T11,E,E,2031-03-09T14:14,none,8]\n"
        "13 rows\n");
}
END_TEST

// A quote that is never closed would swallow the rest of the log, so the log is refused.
START_TEST(open_quote) {
    static const char text[] = HEAD "T1,A,B,2031-03-09T14:05,none,1\n"
                                    "T2,A,\"B,2031-03-09T14:06,none,2\n"
                                    "T3,A,B,2031-03-09T14:07,none,3\n";
    const size_t chunks[] = {1, 40, 70, 0};
    for (size_t c = 0; c < G_N_ELEMENTS(chunks); c++) {
        Reading *r = intake_read(text, sizeof text - 1, NULL, 2, chunks[c]);
        ck_assert(g_error_matches(r->error, READER_ERROR, READER_ERROR_REFUSED));
        ck_assert_str_eq(r->error->message,
                         "log.csv:3: a quote is opened in this record and not closed");
        intake_free(r);
    }
}
END_TEST

// Whatever the bytes, also with quotes that break where they like: pieces and threads change
// nothing.
START_TEST(any_bytes) {
    static const char *const words[] = {"\"",
                                        "\"",
                                        ",",
                                        ",",
                                        "\n",
                                        "\r\n",
                                        "\r",
                                        "A",
                                        "B",
                                        "\"\"",
                                        "2031-03-09T14:05",
                                        "\n1,A,B,2031-03-09T14:05,none,1\n",
                                        "\xC3\xA9",
                                        " "};
    GRand *random = g_rand_new_with_seed(1);
    for (int log = 0; log < 150; log++) {
        GString *text = g_string_new(HEAD);
        const int length = g_rand_int_range(random, 0, 120);
        for (int i = 0; i < length; i++)
            g_string_append(text, words[g_rand_int_range(random, 0, G_N_ELEMENTS(words))]);
        Reading *whole = intake_read(text->str, text->len, NULL, 1, 0);
        char *expected = intake_text(whole);
        for (unsigned way = 0; way < 6; way++) {
            const size_t chunk = (size_t)g_rand_int_range(random, 1, 200);
            Reading *r = intake_read(text->str, text->len, NULL, way % 3 + 1, chunk);
            char *got = intake_text(r);
            ck_assert_msg(strcmp(got, expected) == 0, "pieces of %zu:\n%s\n%s\nnot\n%s", chunk,
                          text->str, got, expected);
            g_free(got);
            intake_free(r);
        }
        g_free(expected);
        intake_free(whole);
        g_string_free(text, TRUE);
    }
    g_rand_free(random);
}
END_TEST

// Whatever pieces and threads, the guard counts the same cells: the three units that are ten-digit
// numbers with a right check digit (test_intake_guard.c), remembered texts and all.
START_TEST(guarded) {
    GString *text = g_string_new("transfer_id,sending_unit,transfer_date\n");
    for (int i = 0; i < 40; i++)
        g_string_append_printf(text, "T%d,%s,2031-01-02\n", i,
                               i % 13 == 12 ? "123 456 7881" : "9000000000");
    const size_t chunks[] = {1, 40, 70, 233, 0};
    for (size_t c = 0; c < G_N_ELEMENTS(chunks); c++)
        for (unsigned threads = 1; threads < 4; threads++) {
            Reading *r = intake_read(text->str, text->len, NULL, threads, chunks[c]);
            ck_assert(r->error == NULL); // 3 of 40: chance
            intake_free(r);
        }
    g_string_append(text, "T40,1234567881,2031-01-02\nT41,1234567881,2031-01-02\n"
                          "T42,9876543210,2031-01-02\nT43,1234567881,2031-01-02\n"
                          "T44,1234567881,2031-01-02\nT45,1234567881,2031-01-02\n"
                          "T46,1234567881,2031-01-02\nT47,1234567881,2031-01-02\n"
                          "T48,1234567881,2031-01-02\nT49,1234567881,2031-01-02\n");
    for (size_t c = 0; c < G_N_ELEMENTS(chunks); c++)
        for (unsigned threads = 1; threads < 4; threads++) {
            Reading *r = intake_read(text->str, text->len, NULL, threads, chunks[c]);
            ck_assert(r->error && g_str_has_prefix(r->error->message, "log.csv:14: column 2"));
            intake_free(r);
        }
    g_string_free(text, TRUE);
}
END_TEST

// A date far behind the part of a log that is looked at first decides for the whole log.
static void check_late(const char *first, const char *late, const char *refused, int32_t minute) {
    GString *text = g_string_new("sending_unit,receiving_unit,requested_at\n");
    for (int i = 0; i < 3000; i++)
        g_string_append_printf(text, "A,B,%s %02d:%02d\n", first, i / 60 % 24, i % 60);
    g_string_append(text, late);
    const size_t chunks[] = {1000, 70000, 0};
    for (size_t c = 0; c < G_N_ELEMENTS(chunks); c++)
        for (unsigned threads = 1; threads < 4; threads++) {
            Reading *r = intake_read(text->str, text->len, NULL, threads, chunks[c]);
            if (refused)
                ck_assert_str_eq(r->error ? r->error->message : "", refused);
            else
                ck_assert_int_eq(transfers_times(r->t, FIELD_requested_at)[r->t->n - 1], minute);
            ck_assert_uint_eq(r->t->n, refused ? 0 : 3001);
            ck_assert_uint_eq(r->input.rows, refused ? 0 : 3001);
            ck_assert_uint_eq(r->findings->put_aside->len, 0);
            intake_free(r);
        }
    g_string_free(text, TRUE);
}

START_TEST(late_dates) {
    const int32_t minute = when_day(2031, 4, 13) * WHEN_DAY + 605;
    check_late("2031-01-02", "A,B,13/04/2031 10:05\n", NULL, minute);
    check_late("01/02/2031", "A,B,13/04/2031 10:05\n", NULL, minute);
    check_late("01/02/2031", "A,B,04/13/2031 10:05\n", NULL, minute);
    check_late("2031-01-02", "A,B,03/04/2031 10:05\n",
               "log.csv:3002: day and month may stand in more than one order, no date tells which "
               "(first here); say it in network.ini: date_order = dmy, mdy or ymd",
               0);
    check_late(
        "13/01/2031", "A,B,04/13/2031 10:05\n",
        "log.csv:3002: dates stand in more than one order (the month is not first in line 2, "
        "the day not in line 3002); say the right one in network.ini: date_order = dmy, mdy "
        "or ymd; the others become unknown",
        0);
    check_late("2031-01-02", "A,B,47951.5\n",
               "log.csv:3002: column 3 holds a spreadsheet's day numbers and dates of another form "
               "(they change first here); say in network.ini from where the numbers count: "
               "serial_base = 1900 or 1904",
               0);
}
END_TEST

START_TEST(too_many_units) {
    GString *text = g_string_new("sending_unit,transfer_date\n");
    for (int i = 0; i < 65535; i++)
        g_string_append_printf(text, "U%d,2031-01-02\n", i);
    Reading *r = intake_read(text->str, text->len, NULL, 2, 0);
    ck_assert(r->error == NULL && r->t->n == 65535 && r->t->units->len == 65536);
    intake_free(r);
    g_string_append(text, "one more,2031-01-02\n");
    for (unsigned threads = 1; threads < 3; threads++) {
        r = intake_read(text->str, text->len, NULL, threads, 0);
        ck_assert(g_error_matches(r->error, READER_ERROR, READER_ERROR_REFUSED));
        ck_assert(strstr(r->error->message, "more than 65535 different unit codes"));
        ck_assert(r->t->n == 0 && r->t->units->len == 1 && r->findings->findings->len == 0);
        intake_free(r);
    }
    g_string_free(text, TRUE);
}
END_TEST

typedef struct {
    uint64_t bytes, rows;
    unsigned times;
} Ticked;

static void tick(void *user, uint64_t bytes, uint64_t rows) {
    Ticked *last = user;
    ck_assert(bytes >= last->bytes && rows >= last->rows);
    *last = (Ticked){bytes, rows, last->times + 1};
}

// Who waits is told how far the reading is, up to the last byte.
START_TEST(ticks) {
    GString *text = g_string_new("sending_unit,transfer_date\n");
    for (int i = 0; i < 10000; i++)
        g_string_append(text, "A,2031-01-02\n");
    char *path = NULL;
    const int file = g_file_open_tmp("crossward-test-XXXXXX.csv", &path, NULL);
    ck_assert(write(file, text->str, text->len) == (ssize_t)text->len && close(file) == 0);
    for (unsigned threads = 1; threads < 3; threads++) {
        Ticked last = {0};
        Input input = {.path = path, .name = path};
        Network *network = intake_network(NULL);
        Transfers *t = transfers_new();
        Findings *findings = finding_list_new();
        const ReaderOptions options = {
            .threads = threads, .chunk = 10000, .tick = tick, .tick_user = &last};
        ck_assert(reader_read(&input, 0, network, &options, t, findings, NULL));
        ck_assert_uint_eq(last.bytes, text->len);
        ck_assert(last.times >= 10 && last.rows > 0 && last.rows <= 10000);
        transfers_free(t);
        finding_list_free(findings);
        network_free(network);
        g_free(input.sha256);
        g_free(input.encoding);
        g_free(input.masks);
        g_hash_table_unref(input.words);
    }
    unlink(path);
    g_free(path);
    g_string_free(text, TRUE);
}
END_TEST

// The SHA-256 of "abc" is the first example of FIPS 180-4 (NIST); here it is the file's.
START_TEST(hash) {
    Reading *r = intake_read("abc", 3, NULL, 1, 0);
    ck_assert_str_eq(r->input.sha256,
                     "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    ck_assert(g_error_matches(r->error, READER_ERROR, READER_ERROR_REFUSED));
    intake_free(r);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("intake: reader");
    TCase *tests = tcase_create("all");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, troubles);
    tcase_add_test(tests, open_quote);
    tcase_add_test(tests, any_bytes);
    tcase_add_test(tests, guarded);
    tcase_add_test(tests, late_dates);
    tcase_add_test(tests, too_many_units);
    tcase_add_test(tests, ticks);
    tcase_add_test(tests, hash);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
