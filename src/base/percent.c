// SPDX-License-Identifier: GPL-3.0-or-later
// Writing per cent.
#include "base/percent.h"

#include <glib.h>
#include <math.h>

enum { MOST_DECIMALS = 6 };
#define ROUNDING 1e-12 // a sum of parts that is so near 1 is 1

int percent_decimals(double largest) {
    const double shown = fabs(100 * largest);
    if (!isfinite(shown) || shown == 0)
        return 0;
    return shown >= 9.95 ? 0 : shown >= 0.995 ? 1 : 2;
}

char *percent_bare(double proportion, int decimals) {
    if (!isfinite(proportion))
        return g_strdup("?");
    char text[G_ASCII_DTOSTR_BUF_SIZE], format[] = "%.0f";
    const double shown = fabs(proportion - 1) < ROUNDING ? 100 : fabs(100 * proportion);
    for (int d = decimals; d <= MOST_DECIMALS; d++) {
        format[2] = (char)('0' + d);
        g_ascii_formatd(text, sizeof text, format, shown);
        const double read = g_ascii_strtod(text, NULL);
        if ((read > 0 || shown <= 0) && (read < 100 || shown >= 100))
            break;
    }
    return g_strconcat(proportion < 0 && g_ascii_strtod(text, NULL) > 0 ? "−" : "", text, NULL);
}

char *percent_text(double proportion, int decimals) {
    char *bare = percent_bare(proportion, decimals), *text = g_strconcat(bare, " %", NULL);
    g_free(bare);
    return text;
}

char *percent_limits(const char *lower, const char *upper) {
    if (!lower && !upper)
        return g_strdup("no interval");
    if (!upper)
        return g_strconcat("at least ", lower, NULL);
    return lower ? g_strconcat(lower, " to ", upper, NULL) : g_strconcat("at most ", upper, NULL);
}

char *percent_interval(double estimate, double lower, double upper, int decimals) {
    char *value = percent_text(estimate, decimals),
         *low = isfinite(lower) ? percent_bare(lower, decimals) : NULL,
         *high = isfinite(upper) ? percent_bare(upper, decimals) : NULL,
         *limits = percent_limits(low, high), *text = g_strdup_printf("%s (%s)", value, limits);
    g_free(value);
    g_free(low);
    g_free(high);
    g_free(limits);
    return text;
}

char *percent_exact(double proportion, int digits) {
    char text[G_ASCII_DTOSTR_BUF_SIZE], format[] = "%.0g";
    for (int d = digits; d <= 9; d++) {
        format[2] = (char)('0' + d);
        g_ascii_formatd(text, sizeof text, format, 100 * proportion);
        if (proportion >= 1 || g_ascii_strtod(text, NULL) < 100)
            break;
    }
    return g_strconcat(text, " %", NULL);
}
