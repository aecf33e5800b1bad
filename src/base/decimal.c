// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers of ordinary size are scaled to a whole number, whose digits are the text; the C library
// is asked for the others, and where the scaling does not tell which decimal is the nearest.
#include "base/decimal.h"

#include <float.h>
#include <glib.h>
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

enum { MOST_DIGITS = 15, LEAST_EXPONENT = -4 }; // %g writes an exponent below that

// All of them are exact.
static const double powers[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,
                                1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19};

// size is whole / 10^places, whole having `digits` digits, the first of them worth 10^exponent.
typedef struct {
    uint64_t whole;
    int exponent, places;
} Scaled;

static int exponent_of(double size) {
    int e = 0;
    if (size < 1) {
        while (size * powers[-e] < 1)
            e--;
        return e;
    }
    while (size >= powers[e + 1])
        e++;
    return e;
}

// False if the number is out of range, or so close to the middle between two decimals that the
// product, which is rounded itself, does not tell on which side it lies.
static bool scale(double size, int digits, Scaled *s) {
    if (!(size >= 1e-4 && size < powers[digits]))
        return false;
    s->exponent = MAX(exponent_of(size), LEAST_EXPONENT);
    s->places = digits - 1 - s->exponent;
    const double product = size * powers[s->places], below = floor(product);
    if (fabs(product - below - 0.5) <= product * DBL_EPSILON)
        return false;
    s->whole = (uint64_t)below + (product - below > 0.5);
    if ((double)s->whole < powers[digits])
        return true;
    s->whole /= 10; // 9.99... has become 10
    s->exponent++;
    s->places--;
    return s->exponent < digits;
}

static char *put_zeros(char *to, int n) {
    for (; n > 0; n--)
        *to++ = '0';
    return to;
}

static void put_scaled(char *to, const Scaled *s, int digits) {
    char digit[MOST_DIGITS];
    uint64_t rest = s->whole;
    for (int i = digits - 1; i >= 0; i--, rest /= 10)
        digit[i] = (char)('0' + rest % 10);
    while (digits > 1 && digit[digits - 1] == '0')
        digits--;
    const int before = CLAMP(s->exponent + 1, 0, digits); // the point
    memcpy(to, digit, (size_t)before);
    to = put_zeros(to + before, before ? s->exponent + 1 - before : 1);
    if (before < digits) {
        *to++ = '.';
        to = put_zeros(to, -1 - s->exponent);
        memcpy(to, digit + before, (size_t)(digits - before));
        to += digits - before;
    }
    *to = 0;
}

static void put_any(char *text, double value, int digits) {
    char format[] = "%.00g";
    format[2] = (char)('0' + digits / 10);
    format[3] = (char)('0' + digits % 10);
    g_ascii_formatd(text, DECIMAL_SIZE, format, value);
}

void decimal_text(char *text, double value, int digits) {
    Scaled s;
    *text = 0;
    if (!isfinite(value))
        return;
    if (value == 0)
        memcpy(text, "0", 2);
    else if (!scale(fabs(value), digits, &s))
        put_any(text, value, digits);
    else {
        *text = '-';
        put_scaled(text + (value < 0), &s, digits);
    }
}

double decimal_rounded(double value, int digits) {
    Scaled s;
    if (!isfinite(value) || (fabs(value) < powers[digits] && value == rint(value)))
        return value + 0.0;
    if (scale(fabs(value), digits, &s)) // exact over exact: rounded once
        return copysign((double)s.whole / powers[s.places], value);
    char text[DECIMAL_SIZE];
    put_any(text, value, digits);
    return g_ascii_strtod(text, NULL);
}
