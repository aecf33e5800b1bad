// SPDX-License-Identifier: GPL-3.0-or-later
// Reads the inputs of a check, written for people, into numbers; makes answers.
#include "published.h"
#include "published_csv.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

// ---- answers ----

CheckAnswer check_not_mine(void) {
    return (CheckAnswer){.kind = CHECK_NOT_MINE};
}

CheckAnswer check_number(double value) {
    return (CheckAnswer){.kind = CHECK_NUMBERS, .count = 1, .numbers = {value}};
}

CheckAnswer check_pair(double first, double second) {
    return (CheckAnswer){.kind = CHECK_NUMBERS, .count = 2, .numbers = {first, second}};
}

CheckAnswer check_text(const char *text) {
    CheckAnswer answer = {.kind = CHECK_TEXT};
    g_strlcpy(answer.text, text, sizeof answer.text);
    return answer;
}

CheckAnswer check_part(const CheckRow *row, StatsInterval interval) {
    if (check_says(row->quantity, "interval"))
        return check_pair(interval.lower, interval.upper);
    if (check_says(row->quantity, "lower"))
        return check_number(interval.lower);
    return check_number(check_says(row->quantity, "upper") ? interval.upper : interval.estimate);
}

// ---- numbers ----

bool check_says(const char *text, const char *word) {
    return strcasestr(text, word) != NULL;
}

bool check_key(const CheckRow *row, const char *key, double *value) {
    const char *text = row->inputs;
    size_t length = strlen(key);
    for (const char *at = strstr(text, key); at != NULL; at = strstr(at + 1, key)) {
        if (at > text && (isalnum((unsigned char)at[-1]) || at[-1] == '_'))
            continue;
        const char *after = at + length + strspn(at + length, " ");
        if (*after != '=')
            continue;
        char *end;
        *value = g_ascii_strtod(after + 1, &end);
        if (end == after + 1)
            continue;
        if (*end == '/' && isdigit((unsigned char)end[1]))
            *value /= g_ascii_strtod(end + 1, NULL);
        return true;
    }
    return false;
}

static bool percent_of(const char *text, double *value) {
    const char *sign = strchr(text, '%'), *start = sign;
    if (sign == NULL)
        return false;
    while (start > text && start[-1] == ' ')
        start--;
    while (start > text && (isdigit((unsigned char)start[-1]) || start[-1] == '.'))
        start--;
    char *end;
    *value = g_ascii_strtod(start, &end) / 100;
    return end > start && *value >= 0.5 && *value < 1;
}

double check_confidence(const CheckRow *row) {
    double value;
    if (check_key(row, "confidence", &value) || check_key(row, "level", &value) ||
        check_key(row, "conf", &value))
        return value > 1 ? value / 100 : value;
    if (check_key(row, "alpha", &value))
        return 1 - value;
    if (percent_of(row->inputs, &value) || percent_of(row->quantity, &value) ||
        percent_of(row->method, &value))
        return value;
    return 0.95;
}

// The number that begins here, or NULL; end receives what follows it.
static const char *read_number(const char *text, const char *at, double *value) {
    bool joined = at > text && (isalnum((unsigned char)at[-1]) || at[-1] == '.' || at[-1] == '_');
    if (!joined && strncmp(at, "NA", 2) == 0 && !isalpha((unsigned char)at[2])) {
        *value = NAN;
        return at + 2;
    }
    bool sign = *at == '-' && at[1] != ' ' && !(at > text && strchr("0123456789)", at[-1]) != NULL);
    const char *digits = at + (sign ? 1 : 0);
    bool begins =
        isdigit((unsigned char)*digits) || (*digits == '.' && isdigit((unsigned char)digits[1]));
    if (!begins || (at > text && (isalpha((unsigned char)at[-1]) || at[-1] == '_')))
        return NULL;
    char *end;
    *value = g_ascii_strtod(at, &end);
    return end;
}

size_t check_numbers(const char *text, double *values, size_t most) {
    size_t count = 0;
    const char *at = text;
    while (*at != '\0' && count < most) {
        const char *end = read_number(text, at, &values[count]);
        count += end != NULL;
        if (end == NULL && isalpha((unsigned char)*at)) { // a word such as x1 is no number
            while (isalnum((unsigned char)*at) || *at == '_')
                at++;
            continue;
        }
        at = end != NULL ? end : at + 1;
    }
    return count;
}

size_t check_fractions(const char *text, double *above, double *below, size_t most) {
    size_t count = 0;
    for (const char *slash = strchr(text, '/'); slash != NULL && count < most;
         slash = strchr(slash + 1, '/')) {
        const char *start = slash;
        while (start > text && start[-1] == ' ')
            start--;
        while (start > text && (isdigit((unsigned char)start[-1]) || start[-1] == '.'))
            start--;
        char *end;
        double first = g_ascii_strtod(start, &end);
        double second = g_ascii_strtod(slash + 1, &end);
        if (start == slash || end == slash + 1)
            continue;
        above[count] = first;
        below[count++] = second;
    }
    return count;
}

bool check_table(const char *text, double *cells, size_t most, size_t *rows, size_t *columns) {
    g_autofree char *copy = g_strdup(text);
    for (char *at = copy; *at != '\0'; at++) // `(1,2),(3,4)` as `1,2;3,4`
        if (*at == ')')
            *at = at[1] == '\0' || strchr(at, '(') == NULL ? ' ' : ';';
        else if (*at == '(' || (*at == ',' && at > copy && at[-1] == ';'))
            *at = ' ';
    g_auto(GStrv) lines = g_strsplit(copy, ";", -1);
    size_t used = 0;
    *rows = *columns = 0;
    for (char **line = lines; *line != NULL; line++) {
        size_t count = check_numbers(*line, cells + used, most - used);
        if (count == 0)
            continue;
        if (*rows > 0 && count != *columns)
            return false;
        *columns = count;
        *rows += 1;
        used += count;
    }
    return *rows > 0;
}

// ---- data beside the checks ----

size_t check_sample(const char *name, double *values, size_t most) {
    g_autoptr(GPtrArray) rows = published_csv_read(PUBLISHED_DIR "/data/samples.csv", 2);
    for (guint i = 1; rows != NULL && i < rows->len; i++) {
        char **cells = rows->pdata[i];
        if (g_ascii_strcasecmp(cells[0], name) == 0)
            return check_numbers(cells[1], values, most);
    }
    return 0;
}

size_t check_values(const char *text, double *values, size_t most) {
    g_autoptr(GPtrArray) rows = published_csv_read(PUBLISHED_DIR "/data/samples.csv", 2);
    char **found = NULL;
    for (guint i = 1; rows != NULL && i < rows->len; i++) {
        char **cells = rows->pdata[i];
        if (check_says(text, cells[0]) && (found == NULL || strlen(cells[0]) > strlen(found[0])))
            found = cells;
    }
    if (found != NULL)
        return check_numbers(found[1], values, most);
    const char *colon = strrchr(text, ':');
    return check_numbers(colon == NULL ? text : colon + 1, values, most);
}

size_t check_column(const char *file, const char *column, double *values, size_t most) {
    g_autofree char *path = g_strdup_printf("%s/data/%s.csv", PUBLISHED_DIR, file);
    g_autoptr(GPtrArray) rows = published_csv_read(path, 1);
    if (rows == NULL || rows->len == 0)
        return 0;
    char **header = rows->pdata[0];
    guint at = 0;
    while (header[at] != NULL && strcmp(header[at], column) != 0)
        at++;
    if (header[at] == NULL)
        return 0;
    size_t count = 0;
    for (guint i = 1; i < rows->len && count < most; i++) {
        char **cells = rows->pdata[i], *end;
        const char *cell = g_strv_length(cells) > at ? cells[at] : "";
        double value = g_ascii_strtod(cell, &end);
        values[count++] = end == cell ? NAN : value;
    }
    return count;
}
