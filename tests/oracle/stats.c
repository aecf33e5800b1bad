// SPDX-License-Identifier: GPL-3.0-or-later
// Reads the lines that stats.R wrote and holds src/stats against them.
#include "stats.h"

#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const OracleEntry *const families[] = {oracle_counts, oracle_samples, oracle_units,
                                              oracle_survival, oracle_regression};

enum { FAMILIES = sizeof families / sizeof *families, MOST_SHOWN = 5 };

typedef struct {
    unsigned lines, wrong;
    double worst; // largest relative difference met
} Tally;

// Numbers of one list, up to `end`; returns how many.
static size_t read_list(const char *text, double *values) {
    size_t n = 0;
    for (char *end; n < ORACLE_MOST_VALUES; text = end) {
        double value = strtod(text, &end);
        if (end == text)
            break;
        values[n++] = value;
    }
    return n;
}

static size_t read_lists(char *text, OracleList *lists, double *room) {
    size_t count = 0;
    for (char *part = strtok(text, ","); part != NULL && count < ORACLE_MOST_LISTS;
         part = strtok(NULL, ",")) {
        lists[count] = (OracleList){room, read_list(part, room)};
        room += lists[count++].n;
    }
    return count;
}

// Relative difference; the same infinity, and NaN where NaN is asked, differ by 0. Below 1e-290
// two numbers are the same.
static double difference(double got, double want) {
    if (isnan(want) || isinf(want))
        return (isnan(want) && isnan(got)) || got == want ? 0 : INFINITY;
    double size = fmax(fabs(want), 1e-290);
    return isnan(got) ? INFINITY : fabs(got - want) / size;
}

static void compare(const OracleEntry *entry, char *given, char *wanted, Tally *tally) {
    static double room[ORACLE_MOST_LISTS * ORACLE_MOST_VALUES], answers[ORACLE_MOST_VALUES];
    OracleList lists[ORACLE_MOST_LISTS] = {{NULL, 0}};
    char shown[200];
    snprintf(shown, sizeof shown, "%s", given);
    read_lists(given, lists, room);
    size_t count = entry->function(lists, answers), at = 0;
    bool wrong = false;
    for (char *part = strtok(wanted, ","); part != NULL; part = strtok(NULL, ","), at++) {
        double want = strtod(part, NULL), got = at < count ? answers[at] : NAN;
        double apart = difference(got, want);
        bool cancelled = fabs(got - want) <= entry->absolute;
        if (!cancelled)
            tally->worst = fmax(tally->worst, apart);
        if (apart > entry->tolerance && !cancelled) {
            wrong = true;
            if (tally->wrong < MOST_SHOWN)
                printf("%s(%s)[%zu]: %.17g, R says %.17g\n", entry->name, shown, at, got, want);
        }
    }
    tally->lines++;
    tally->wrong += wrong || at == 0;
}

static bool read_line(char *line, Tally tallies[][64]) {
    char *name = line, *given = strchr(line, '|'), *wanted;
    if (given == NULL || (wanted = strchr(given + 1, '|')) == NULL)
        return false;
    *given++ = *wanted++ = '\0';
    for (int f = 0; f < FAMILIES; f++)
        for (int i = 0; families[f][i].name != NULL; i++)
            if (strcmp(families[f][i].name, name) == 0) {
                compare(&families[f][i], given, wanted, &tallies[f][i]);
                return true;
            }
    printf("%s: no such function\n", name);
    return false;
}

int main(void) {
    static Tally tallies[FAMILIES][64];
    static char line[200000];
    unsigned passed = 0, failed = 0;
    gsl_set_error_handler_off();
    while (fgets(line, sizeof line, stdin) != NULL) {
        line[strcspn(line, "\n")] = '\0';
        failed += !read_line(line, tallies);
    }
    for (int f = 0; f < FAMILIES; f++)
        for (int i = 0; families[f][i].name != NULL; i++) {
            const Tally *t = &tallies[f][i];
            printf("%-22s %6u lines, largest relative difference %.1e\n", families[f][i].name,
                   t->lines, t->worst);
            passed += t->lines - t->wrong;
            failed += t->lines == 0 ? 1 : t->wrong;
        }
    printf("%u passed, %u failed\n", passed, failed);
    return failed == 0 && passed > 0 ? 0 : 1;
}
