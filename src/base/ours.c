// SPDX-License-Identifier: GPL-3.0-or-later
// Known by two files each, since somebody else may have one of either name.
#include "base/ours.h"

#include <glib.h>

static bool has(const char *folder, const char *name) {
    char *path = g_build_filename(folder, name, NULL);
    const bool is = g_file_test(path, G_FILE_TEST_IS_REGULAR);
    g_free(path);
    return is;
}

bool ours_is(const char *folder) {
    static const char *const marks[][2] = {{"manifest.json", "report.html"},
                                           {"datapackage.json", "estimates.csv"},
                                           {"replay.csv", "replay.html"},
                                           {"plan.csv", "plan.txt"}};
    bool is = false;
    for (gsize i = 0; i < G_N_ELEMENTS(marks); i++)
        is = is || (has(folder, marks[i][0]) && has(folder, marks[i][1]));
    return is;
}
