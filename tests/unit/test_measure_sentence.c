// SPDX-License-Identifier: GPL-3.0-or-later
// Golden sentences of signals: one for each row of the grammar, read and found right.
#include "measure/sentence.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>

static Indicator share = {.title = (char *)"Papers complete", .better = (char *)"higher"};
static Indicator wait = {.title = (char *)"Request to departure", .better = (char *)"lower"};
static Indicator rate = {.title = (char *)"Adverse events",
                         .better = (char *)"lower",
                         .scale = (char *)"per 100 transfers"};
static Indicator volume = {.title = (char *)"Requests made", .better = (char *)""};

static void says(const Signal *s, const SentenceFacts *f, const char *text) {
    char *got = sentence_of(s, f);
    ck_assert_str_eq(got, text);
    g_free(got);
}

START_TEST(levels) {
    Signal s = {.kind = SIGNAL_LEVEL,
                .direction = SIGNAL_WORSE,
                .estimate = 0.2781,
                .reference = 0.6732,
                .lower = 0.2159,
                .upper = 0.3503,
                .q = 3e-23,
                .robust = COMPARE_RESTS,
                .rests_on = 426};
    SentenceFacts f = {.indicator = &share,
                       .measure = CHANGE_SHARE,
                       .unit = "HAZ",
                       .events = 47,
                       .total = 169,
                       .confidence = 0.95};
    says(&s, &f,
         "Worth a look at HAZ: Papers complete is 28 % (47 of 169; 95 % interval 22 to 35), "
         "against 67 % in the whole network. Chance and the usual spread between units do not "
         "explain that (q below 0.001). It rests on 426 unknown records: if they all spoke against "
         "it, it would not stand. Look first at how the records were made, then at the mix of "
         "patients, then at practice.");
    Indicator own = share; // judged by some of the records
    own.compare = (char *)"team=sending-unit";
    f.indicator = &own;
    says(&s, &f,
         "Worth a look at HAZ: Papers complete is 28 % (47 of 169 carried by the sending unit's "
         "own team; 95 % interval 22 to 35), against 67 % among the same in the whole network. "
         "Chance and the usual spread between units do not explain that (q below 0.001). It rests "
         "on 426 unknown records: if they all spoke against it, it would not stand. Look first at "
         "how the records were made, then at the mix of patients, then at practice.");
    f.indicator = &share;
    s.direction = SIGNAL_BETTER;
    s.estimate = 0.871, s.lower = 0.812, s.upper = 0.913, s.q = 0.0123;
    s.robust = COMPARE_ROBUST;
    Comparison other = {.q = 0.2, .value = {1.08, 0.9, 1.3}};
    f.other = &other;
    says(&s, &f,
         "Good news at HAZ: Papers complete is 87 % (47 of 169; 95 % interval 81 to 91), against "
         "67 % in the whole network. Chance and the usual spread between units do not explain that "
         "(q 0.012). With the mix of patients allowed for, observed over expected is 1.08 (q 0.2). "
         "It stands even in the worst case for what is unknown. Look first at how the records were "
         "made; then ask what others can learn from it.");
    s = (Signal){.kind = SIGNAL_LEVEL,
                 .direction = SIGNAL_WORSE,
                 .adjusted = true,
                 .estimate = 1.534,
                 .reference = 1,
                 .lower = 1.2,
                 .upper = 1.94,
                 .q = 0.004,
                 .robust = COMPARE_ROBUST};
    f = (SentenceFacts){.indicator = &share,
                        .measure = CHANGE_SHARE,
                        .unit = "OAK",
                        .events = 46,
                        .total = 100,
                        .expected = 30,
                        .confidence = 0.95};
    says(&s, &f,
         "Worth a look at OAK: Papers complete, with the mix of patients allowed for: 46 where "
         "30.0 were expected at the network's risks, a ratio of 1.53 (95 % interval 1.20 to 1.94). "
         "Chance and the usual spread between units do not explain that (q 0.004). It stands even "
         "in the worst case for what is unknown. Look first at how the records were made, then at "
         "what the model does not know of the patients, then at practice.");
    s = (Signal){.kind = SIGNAL_LEVEL,
                 .direction = SIGNAL_WORSE,
                 .estimate = 310,
                 .reference = 118,
                 .lower = 250,
                 .upper = NAN,
                 .q = 0.01,
                 .robust = COMPARE_RESTS,
                 .rests_on = 1};
    f = (SentenceFacts){.indicator = &wait,
                        .measure = CHANGE_MEDIAN,
                        .unit = "OAK",
                        .total = 9,
                        .urgencies = 3,
                        .confidence = 0.9,
                        .side = 1};
    says(&s, &f,
         "Worth a look at OAK: Request to departure has a median of 5 h 10 min (9 known; 90 % "
         "interval 4 h 10 min to no limit), against 118 min in the whole network. Held against "
         "patients of the same urgency elsewhere, its patients' times are longer than chance and "
         "the usual spread between units explain (q 0.01). It rests on 1 unknown record: "
         "if it spoke against it, it "
         "would not stand. Look first at how the records were made, then at what else sets its "
         "patients apart, then at practice.");
    f.urgencies = 1; // nobody's is known, or all are alike: then nothing was told apart
    says(&s, &f,
         "Worth a look at OAK: Request to departure has a median of 5 h 10 min (9 known; 90 % "
         "interval 4 h 10 min to no limit), against 118 min in the whole network. Held against "
         "patients elsewhere, its patients' times are longer than chance and the usual spread "
         "between units explain (q 0.01). It rests on 1 unknown record: if it spoke against it, it "
         "would not stand. Look first at how the records were made, then at what else sets its "
         "patients apart, then at practice.");
}
END_TEST

START_TEST(changes) {
    Series series = {.unit = 0,
                     .chart = SERIES_P,
                     .measure = CHANGE_SHARE,
                     .levels = {.median = 0.3, .useful = 24, .longest = 12, .crossings = 5}};
    Signal s = {.kind = SIGNAL_CHANGE,
                .direction = SIGNAL_BETTER,
                .estimate = 0.61,
                .reference = 0.45,
                .effect = 0.16,
                .lower = 0.081,
                .upper = 0.234,
                .q = 0.0004,
                .period = (char *)"2031-Q4",
                .against = (char *)"2031-Q3",
                .robust = COMPARE_ROBUST};
    SentenceFacts f = {
        .indicator = &share, .measure = CHANGE_SHARE, .confidence = 0.95, .series = &series};
    says(&s, &f,
         "Good news in the network: Papers complete was 61 % in 2031-Q4, against 45 % in 2031-Q3; "
         "the difference is +16.0 percentage points (95 % interval +8.1 to +23.4; q below 0.001). "
         "It stands even in the worst case for what is unknown. Look first at whether the records "
         "changed; then ask what keeps it so.");
    s.kind = SIGNAL_SHIFT;
    s.direction = SIGNAL_WORSE;
    s.estimate = 0.31, s.reference = 0.45;
    says(&s, &f,
         "Worth a look in the network: Papers complete was 45 % in the earlier half of the months "
         "and 31 % in the later half; 12 months running lay on one side of the median, which was "
         "crossed 5 times in 24: longer on one side than chance explains (q below 0.001). A shift "
         "that lasts does that, and so does a season. It stands even in the worst "
         "case for what is unknown. Look first at whether the records changed, then at the mix of "
         "patients, then at practice.");
    s.kind = SIGNAL_POINT;
    s.estimate = 0.085, s.lower = 0.3, s.upper = 0.6;
    s.period = (char *)"2031-07";
    f.events = 4, f.total = 47;
    says(&s, &f,
         "Worth a look in the network: Papers complete was 8.5 % (4 of 47) in 2031-07, outside "
         "what chance "
         "makes of the usual 45 % (30.0 to 60.0; q below 0.001). It stands even in the worst case "
         "for what is "
         "unknown. Look first at whether the records changed, then at the mix of patients, then at "
         "practice.");
}
END_TEST

// Waits of all patients say how urgencies were allowed for, those of one urgency do not.
START_TEST(changes_of_waits) {
    Series series = {.unit = 0,
                     .chart = SERIES_XMR,
                     .measure = CHANGE_MEDIAN,
                     .levels = {.useful = 24, .longest = 12, .crossings = 5}};
    Signal s = {.kind = SIGNAL_CHANGE,
                .direction = SIGNAL_WORSE,
                .estimate = 130,
                .reference = 118,
                .effect = 15,
                .lower = 9,
                .upper = 21,
                .q = 0.0004,
                .period = (char *)"2031-Q4",
                .against = (char *)"2031-Q3",
                .robust = COMPARE_ROBUST};
    SentenceFacts f = {.indicator = &wait,
                       .measure = CHANGE_MEDIAN,
                       .urgencies = 2,
                       .confidence = 0.95,
                       .series = &series};
    says(&s, &f,
         "Worth a look in the network: Request to departure had a median of 2 h 10 min in 2031-Q4, "
         "against 118 min in 2031-Q3; among patients of the same urgency the typical difference is "
         "15 min (95 % interval 9 min to 21 min; q below 0.001). It stands even in the worst case "
         "for what is unknown. Look first at whether the records changed, then at the mix of "
         "patients, then at practice.");
    s.kind = SIGNAL_SHIFT;
    says(&s, &f,
         "Worth a look in the network: Request to departure was 118 min in the earlier half of the "
         "months and 2 h 10 min in the later half, the mix of urgencies being allowed for; 12 "
         "months running lay on one side of the median, which was crossed 5 times in 24: longer on "
         "one side than chance explains (q below 0.001). A shift that lasts does that, and so does "
         "a season. It stands even in the worst case for what is unknown. Look first at whether "
         "the records changed, then at the mix of patients, then at practice.");
    s.kind = SIGNAL_POINT;
    s.period = (char *)"2031-07", s.lower = 90, s.upper = 125;
    f.total = 40;
    says(&s, &f,
         "Worth a look in the network: Request to departure had a median of 2 h 10 min (40 "
         "patients) in 2031-07, outside what chance makes of the usual 118 min (90 min to 2 h 05 "
         "min; q below 0.001). Held against patients of the same urgency at other times, its "
         "patients' times are longer, too. It stands even in the worst case for what is unknown. "
         "Look first at whether the records changed, then at the mix of patients, then at "
         "practice.");
    f.urgencies = 1; // nothing was told apart
    says(&s, &f,
         "Worth a look in the network: Request to departure had a median of 2 h 10 min (40 "
         "patients) in 2031-07, outside what chance makes of the usual 118 min (90 min to 2 h 05 "
         "min; q below 0.001). It stands even in the worst case for what is unknown. Look first at "
         "whether the records changed, then at the mix of patients, then at practice.");
    f.urgencies = 2;
    s.kind = SIGNAL_CHANGE;
    s.urgency = series.urgency = CODE_urgency_TIME_CRITICAL;
    says(&s, &f,
         "Worth a look in the network: Request to departure (time-critical patients) had a median "
         "of 2 h 10 min in 2031-07, against 118 min in 2031-Q3; the typical difference is 15 min "
         "(95 % interval 90 min to 2 h 05 min; q below 0.001). It stands even in the worst case "
         "for what is unknown. Look first at whether the records changed, then at the mix of "
         "patients, then at practice.");
}
END_TEST

START_TEST(trends_and_rates) {
    Series series = {.unit = 0,
                     .chart = SERIES_U,
                     .measure = CHANGE_VOLUME,
                     .steady_units = 10,
                     .steady_trend = {{1.02, 0.99, 1.05}, 0.2, 24}};
    Signal s = {.kind = SIGNAL_TREND,
                .direction = SIGNAL_HIGHER,
                .estimate = 1.12,
                .reference = 1,
                .effect = 1.12,
                .lower = 1.06,
                .upper = 1.19,
                .q = 0.002,
                .robust = COMPARE_ROBUST};
    SentenceFacts f = {
        .indicator = &volume, .measure = CHANGE_VOLUME, .confidence = 0.95, .series = &series};
    says(&s, &f,
         "Higher in the network: Requests made: the number has been rising; a year multiplies it "
         "by 1.12 (95 % interval 1.06 to 1.19; q 0.002). For the 10 units with records in every "
         "month it is 1.02 (0.99 to 1.05). It stands even in the worst case for what is unknown. "
         "Look first at which logs were sent in, and when.");
    series = (Series){.unit = 3, .chart = SERIES_XMR, .measure = CHANGE_MEDIAN};
    s.direction = SIGNAL_BETTER;
    s.estimate = s.effect = -38, s.reference = 0, s.lower = -61, s.upper = -9.8;
    f = (SentenceFacts){.indicator = &wait,
                        .measure = CHANGE_MEDIAN,
                        .unit = "ALD",
                        .urgencies = 2,
                        .confidence = 0.95,
                        .series = &series};
    says(&s, &f,
         "Good news at ALD: Request to departure has been falling, its median by 38 min a year, "
         "the mix of urgencies being allowed for (95 % interval 10 min to 61 min; q 0.002). It "
         "stands even in the worst case for what is "
         "unknown. Look first at whether the "
         "records changed; then ask what keeps it so.");
    series = (Series){.unit = 0,
                      .chart = SERIES_T,
                      .measure = CHANGE_RATE,
                      .gaps = g_array_new(FALSE, FALSE, sizeof(SeriesPoint)),
                      .longer = true};
    s = (Signal){.kind = SIGNAL_POINT,
                 .direction = SIGNAL_BETTER,
                 .estimate = 212,
                 .reference = 31,
                 .period = (char *)"2031-09",
                 .q = 0.03,
                 .robust = COMPARE_ROBUST};
    f = (SentenceFacts){
        .indicator = &rate, .measure = CHANGE_RATE, .confidence = 0.95, .series = &series};
    says(&s, &f,
         "Good news in the network: Adverse events: up to 2031-09 212 days went by without one, "
         "where 31 days is usual (q 0.03). It stands even in the worst case for what is unknown. "
         "Look first at whether the records changed; then ask what keeps it so.");
    g_array_unref(series.gaps);
    char *value = sentence_value(&rate, CHANGE_RATE, 3.21);
    ck_assert_str_eq(value, "3.2 per 100 transfers");
    g_free(value);
    value = sentence_value(&rate, CHANGE_RATE, NAN);
    ck_assert_str_eq(value, "unknown");
    g_free(value);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("sentence");
    TCase *all = tcase_create("all");
    tcase_add_test(all, levels);
    tcase_add_test(all, changes);
    tcase_add_test(all, changes_of_waits);
    tcase_add_test(all, trends_and_rates);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
