// SPDX-License-Identifier: GPL-3.0-or-later
// Forms of cells, told by their digits and separators alone.
#include "intake/form.h"

#include "intake/stamp.h"

#include <stdlib.h>
#include <string.h>

// Up to six numbers of a cell and the separator before each.
typedef struct {
    unsigned n, value[6], digits[6];
    char before[6];
    gboolean clean; // nothing else in it
} Numbers;

static Numbers numbers_of(const char *cell) {
    Numbers f = {.clean = TRUE};
    char before = 0;
    for (const char *c = cell; *c;) {
        if (!g_ascii_isdigit(*c)) {
            f.clean = f.clean && strchr("-/.: T,", *c);
            before = *c++;
            continue;
        }
        if (f.n == 6) {
            f.clean = FALSE;
            break;
        }
        f.before[f.n] = before;
        while (g_ascii_isdigit(*c) && f.digits[f.n] < 9)
            f.value[f.n] = f.value[f.n] * 10 + (unsigned)g_ascii_digit_value(*c++), f.digits[f.n]++;
        f.n++;
        before = 0;
    }
    return f;
}

static gboolean is_date(const Numbers *f) {
    if (f->n < 3 || !f->before[1] || !strchr("-/.", f->before[1]) || f->before[2] != f->before[1])
        return FALSE;
    if (f->digits[0] == 4)
        return f->value[1] >= 1 && f->value[1] <= 12 && f->value[2] >= 1 && f->value[2] <= 31;
    return f->digits[0] <= 2 && f->digits[1] <= 2 && (f->digits[2] == 4 || f->digits[2] == 2) &&
           f->value[0] >= 1 && f->value[0] <= 31 && f->value[1] >= 1 && f->value[1] <= 31;
}

// Times with letters in them: 9 Mar 2031, 2:05 pm, 14h05, 2031-03-09T14:05Z.
static Form of_letters(const char *cell) {
    Stamp s;
    if (!g_ascii_isdigit(*cell) || !stamp_read(cell, strlen(cell), &s))
        return FORM_TEXT;
    if (s.form == STAMP_NO_DATE)
        return FORM_CLOCK;
    return s.has_clock ? FORM_STAMP : FORM_DATE;
}

Form form_of_cell(const char *cell) {
    const Numbers f = numbers_of(cell);
    if (!f.clean || f.n == 0)
        return of_letters(cell);
    if (is_date(&f))
        return f.n == 3                                   ? FORM_DATE
               : f.before[3] == ' ' || f.before[3] == 'T' ? FORM_STAMP
                                                          : FORM_TEXT;
    if (f.n >= 2 && f.n <= 3 && f.before[1] == ':' && f.value[0] <= 24 && f.value[1] <= 59)
        return FORM_CLOCK;
    if (f.n == 1 && cell[strspn(cell, "0123456789")] == 0)
        return f.value[0] >= 20000 && f.value[0] < 80000 ? FORM_SERIAL_DAY : FORM_WHOLE;
    if (f.n == 2 && (f.before[1] == '.' || f.before[1] == ',') && !f.before[0])
        return f.value[0] >= 20000 && f.value[0] < 80000 ? FORM_SERIAL : FORM_DECIMAL;
    return FORM_TEXT;
}

// 14.30 as a clock: two digits behind the dot, none past 59.
static gboolean is_dotted_clock(const Numbers *f) {
    return f->clean && f->n == 2 && f->before[1] == '.' && f->digits[1] == 2 && f->digits[0] <= 2 &&
           f->value[0] <= 24 && f->value[1] <= 59;
}

// 1430 and 905 as clocks.
static gboolean is_bare_clock(const Numbers *f) {
    return f->clean && f->n == 1 && (f->digits[0] == 3 || f->digits[0] == 4) &&
           f->value[0] < 2400 && f->value[0] % 100 <= 59;
}

// Whether a column of numbers is one of clocks, so many that chance alone would hardly give them.
// Bare ones lie in several hours at several minutes: years, running numbers and round numbers
// don't.
static gboolean are_clocks(const GPtrArray *cells, gboolean (*is_clock)(const Numbers *)) {
    size_t clocks = 0, others = 0, hours = 0, minutes = 0;
    gboolean hour[25] = {0}, minute[60] = {0};
    for (guint i = 0; i < cells->len; i++) {
        const Numbers f = numbers_of(cells->pdata[i]);
        const gboolean clock = is_clock(&f);
        clocks += clock ? 1 : 0;
        others += !clock && *(const char *)cells->pdata[i] ? 1 : 0;
        if (clock && f.n == 1) {
            hours += !hour[f.value[0] / 100];
            minutes += !minute[f.value[0] % 100];
            hour[f.value[0] / 100] = minute[f.value[0] % 100] = TRUE;
        }
    }
    return clocks >= 12 && others * 10 <= clocks &&
           (is_clock == is_dotted_clock || (hours >= 4 && minutes >= 4));
}

Form form_of_column(const GPtrArray *cells) {
    size_t count[FORM_DECIMAL + 1] = {0}, n = 0;
    for (guint i = 0; i < cells->len; i++)
        if (*(const char *)cells->pdata[i])
            n++, count[form_of_cell(cells->pdata[i])]++;
    // whole days are serials too, whole numbers decimals, and a few midnights are stamps as dates
    if (count[FORM_SERIAL] > 0)
        count[FORM_SERIAL] += count[FORM_SERIAL_DAY];
    if (count[FORM_DECIMAL] > 0)
        count[FORM_DECIMAL] += count[FORM_WHOLE];
    for (int form = FORM_STAMP; n > 0 && form <= FORM_DECIMAL; form++)
        if (10 * count[form] >= 9 * n)
            return (form == FORM_DECIMAL && are_clocks(cells, is_dotted_clock)) ||
                           (form == FORM_WHOLE && are_clocks(cells, is_bare_clock))
                       ? FORM_CLOCK
                       : (Form)form;
    return FORM_TEXT;
}

double form_number(const char *cell) {
    const Form form = form_of_cell(cell);
    if (form == FORM_SERIAL || form == FORM_SERIAL_DAY) {
        char *text = g_strdelimit(g_strdup(cell), ",", '.');
        const double value = g_ascii_strtod(text, NULL);
        g_free(text);
        return value;
    }
    if (form != FORM_STAMP)
        return -1;
    Stamp s;
    int32_t day;
    if (!stamp_read(cell, strlen(cell), &s))
        return -1;
    const StampStyle style = {s.part[1] > 12 ? DATE_ORDER_MDY : DATE_ORDER_DMY, 100, 1900};
    return stamp_day(&s, &style, &day) == STAMP_FINE ? day + s.minute / 1440.0 : -1;
}
