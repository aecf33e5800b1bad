// SPDX-License-Identifier: GPL-3.0-or-later
// Unknowns with one value, against the definition: an unknown is determined if its unit vector lies
// in the span of the equations' rows.
#include "stats/determined.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 12 };

// Rank of n rows, which it destroys; entries are small whole numbers.
static size_t rank(double row[][MOST], size_t n, size_t unknowns) {
    size_t r = 0;
    for (size_t c = 0; c < unknowns && r < n; c++) {
        size_t best = r;
        for (size_t k = r; k < n; k++)
            if (fabs(row[k][c]) > fabs(row[best][c]))
                best = k;
        if (fabs(row[best][c]) < 1e-9)
            continue;
        double swapped[MOST];
        memcpy(swapped, row[r], sizeof swapped);
        memcpy(row[r], row[best], sizeof swapped);
        memcpy(row[best], swapped, sizeof swapped);
        for (size_t k = r + 1; k < n; k++) {
            const double times = row[k][c] / row[r][c];
            for (size_t i = c; i < unknowns; i++)
                row[k][i] -= times * row[r][i];
        }
        r++;
    }
    return r;
}

static bool in_span(int matrix[][MOST], size_t n, size_t unknowns, size_t which) {
    double row[MOST + 1][MOST];
    size_t with;
    for (size_t k = 0; k < n; k++)
        for (size_t c = 0; c < unknowns; c++)
            row[k][c] = matrix[k][c];
    with = rank(row, n, unknowns);
    for (size_t k = 0; k < n; k++)
        for (size_t c = 0; c < unknowns; c++)
            row[k][c] = matrix[k][c];
    for (size_t c = 0; c < unknowns; c++)
        row[n][c] = c == which;
    return rank(row, n + 1, unknowns) == with;
}

static void solve(int matrix[][MOST], size_t n, size_t unknowns, bool *determined) {
    size_t first[MOST + 1], terms = 0;
    DeterminedTerm term[MOST * MOST];
    for (size_t k = 0; k < n; k++) {
        first[k] = terms;
        for (size_t c = 0; c < unknowns; c++)
            if (matrix[k][c])
                term[terms++] = (DeterminedTerm){(uint32_t)c, matrix[k][c]};
    }
    first[n] = terms;
    ck_assert(determined_find(unknowns, n, first, term, determined));
}

// Definition, on random matrices of few and many entries.
START_TEST(random_matrices) {
    srand(7);
    size_t seen[2] = {0, 0};
    for (int round = 0; round < 20000; round++) {
        int matrix[MOST][MOST] = {{0}};
        bool determined[MOST];
        const size_t n = (size_t)rand() % MOST, unknowns = 1 + (size_t)rand() % MOST;
        const int rare = 1 + rand() % 6;
        for (size_t k = 0; k < n; k++)
            for (size_t c = 0; c < unknowns; c++)
                matrix[k][c] = rand() % rare ? 0 : rand() % 5 - 2;
        solve(matrix, n, unknowns, determined);
        for (size_t c = 0; c < unknowns; c++) {
            ck_assert_int_eq(determined[c], in_span(matrix, n, unknowns, c));
            seen[determined[c]]++;
        }
    }
    ck_assert_uint_gt(seen[0], 10000); // both were tried
    ck_assert_uint_gt(seen[1], 10000);
}
END_TEST

// Hidden cells of a table with known margins are edges between rows and columns; a cell is
// determined if and only if its edge is a bridge (Gusfield 1988, A graph theoretic approach to
// statistical data security, SIAM J. Comput. 17(3), 552-571). Two squares joined by one edge: each
// row and column has two hidden cells or more, yet one cell follows.
START_TEST(bridge_of_a_table) {
    enum { ROWS = 4, CELLS = 9 };
    static const int cell[CELLS][2] = {{0, 0}, {0, 1}, {1, 0}, {1, 1}, {2, 2},
                                       {2, 3}, {3, 2}, {3, 3}, {1, 2}};
    int matrix[MOST][MOST] = {{0}};
    bool determined[MOST];
    for (size_t c = 0; c < CELLS; c++)
        matrix[cell[c][0]][c] = matrix[ROWS + cell[c][1]][c] = 1;
    solve(matrix, 2 * ROWS, CELLS, determined);
    for (size_t c = 0; c < CELLS; c++)
        ck_assert_int_eq(determined[c], c == CELLS - 1);
}
END_TEST

int main(void) {
    Suite *suite = suite_create("stats_determined");
    TCase *all = tcase_create("determined");
    tcase_add_test(all, random_matrices);
    tcase_add_test(all, bridge_of_a_table);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    const int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed > 0;
}
