// SPDX-License-Identifier: GPL-3.0-or-later
// Conditions in plain words. The expected texts are the project's own convention.
#include "measure/plainly.h"

#include <check.h>
#include <stdlib.h>

static void says(const char *condition, const char *text) {
    Condition *c = condition_parse(condition, NULL);
    ck_assert_ptr_nonnull(c);
    char *got = plainly_condition(c);
    ck_assert_str_eq(got, text);
    g_free(got);
    condition_free(c);
}

START_TEST(terms) {
    says("all", "");
    says("departed=yes & ventilated=yes", "departed and ventilated");
    says("base_cover=uncovered|reduced", "unit left with reduced cover or none");
    says("escort_grade=consultant|nurse", "escort grade consultant or nurse");
    says("escort_grade!=consultant", "escort grade not consultant");
    says("vasoactive=yes", "vasoactive");
    says("vasoactive!=yes", "not vasoactive");
    says("vasoactive=no", "vasoactive no");
    says("capnography=yes|not-needed", "capnography there or not needed");
    says("receiving_unit=OAK|ELM", "receiving unit OAK or ELM");
    says("event=any", "each adverse event");
    says("event=airway|vehicle-breakdown",
         "an adverse event of the kind airway or vehicle breakdown");
}
END_TEST

START_TEST(judged) {
    static const char *const texts[][2] = {
        {"", ""},
        {"all", ""},
        {"team=sending-unit", " carried by the sending unit's own team"},
        {"urgency=time-critical", ", only: time-critical"}};
    for (unsigned i = 0; i < G_N_ELEMENTS(texts); i++) {
        char *got = plainly_judged(texts[i][0]);
        ck_assert_str_eq(got, texts[i][1]);
        g_free(got);
    }
}
END_TEST

int main(void) {
    Suite *suite = suite_create("plainly");
    TCase *all = tcase_create("all");
    tcase_add_test(all, terms);
    tcase_add_test(all, judged);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
