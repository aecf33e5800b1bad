// SPDX-License-Identifier: GPL-3.0-or-later
// Orders are ruled out by dates that do not exist in them; one must be left.
#include "intake/dateorder.h"

#include "intake/reader.h"
#include "intake/stamp.h"

#include <csv.h>
#include <string.h>

typedef struct {
    DateOrders orders;
    const bool *is_time;
    unsigned n_heads, column;
    uint32_t line;
} Look;

static bool allows(const Stamp *s, DateOrder order) {
    static const int month_at[] = {
        [DATE_ORDER_YMD] = 1, [DATE_ORDER_DMY] = 1, [DATE_ORDER_MDY] = 0};
    static const int day_at[] = {[DATE_ORDER_YMD] = 2, [DATE_ORDER_DMY] = 0, [DATE_ORDER_MDY] = 1};
    const int month = s->part[month_at[order]], day = s->part[day_at[order]];
    if (order == DATE_ORDER_YMD && !s->short_year)
        return false;                         // its four-digit year comes last
    return when_valid_date(2000, month, day); // whether its year was a leap year is not asked
}

static void on_cell(void *text, size_t length, void *data) {
    Look *look = data;
    Stamp s;
    if (look->column >= look->n_heads || !look->is_time[look->column++] || length == 0)
        return;
    if (!stamp_read(text, length, &s) || s.form != STAMP_NUMBERS)
        return;
    if (look->orders.dates++ == 0)
        look->orders.first_line = look->line;
    look->orders.short_years += s.short_year;
    for (DateOrder o = DATE_ORDER_YMD; o <= DATE_ORDER_MDY; o++)
        look->orders.possible[o] = look->orders.possible[o] && allows(&s, o);
}

static void on_record(int end, void *data) {
    (void)end;
    Look *look = data;
    look->column = 0;
    look->line++; // of a log without line breaks in cells; it is the first date's that is told
}

DateOrders dateorder_look(const char *text, size_t length, char delimiter, const bool *is_time,
                          unsigned n_heads, uint32_t line) {
    Look look = {.orders = {.possible = {false, true, true, true}},
                 .is_time = is_time,
                 .n_heads = n_heads,
                 .line = line};
    struct csv_parser csv;
    if (csv_init(&csv, 0) != 0)
        g_error("out of memory");
    csv_set_delim(&csv, (unsigned char)delimiter);
    csv_parse(&csv, text, length, on_cell, on_record, &look);
    csv_fini(&csv, on_cell, on_record, &look);
    csv_free(&csv);
    return look.orders;
}

bool dateorder_choose(const DateOrders *orders, const LogSettings *settings, DateOrder *order,
                      GError **error) {
    unsigned left = 0;
    *order = DATE_ORDER_UNSET;
    if (orders->dates == 0)
        return true;
    for (DateOrder o = DATE_ORDER_YMD; o <= DATE_ORDER_MDY; o++)
        if (orders->possible[o])
            left++, *order = o;
    if (left != 1) {
        g_set_error(
            error, READER_ERROR, READER_ERROR_REFUSED, "%s",
            left > 1 ? "day and month may stand in more than one order, no date tells which (first "
                       "here); say it in network.ini: date_order = dmy, mdy or ymd"
                     : "dates stand in more than one order (first here); say the right one in "
                       "network.ini: date_order = dmy, mdy or ymd; the others become unknown");
        return false;
    }
    if (orders->short_years > 0 && settings->century_pivot < 0) {
        g_set_error(error, READER_ERROR, READER_ERROR_REFUSED,
                    "years have two digits (first here); say in network.ini from which on they are "
                    "19xx, for example century_pivot = 70");
        return false;
    }
    return true;
}
