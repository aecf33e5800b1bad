// SPDX-License-Identifier: GPL-3.0-or-later
// Forms of identifiers, for one cell and for a column.
#include "intake/guard.h"

#include "intake/vocabulary.h"

#include <glib.h>
#include <math.h>
#include <string.h>

const char *guard_word(GuardKind kind) {
    static const char *const words[] = {
        "",
        "national or hospital numbers of persons",
        "dates of birth",
        "e-mail addresses",
        "phone numbers",
        "postcodes",
        "names of persons",
        "exact ages over 89",
    };
    return words[kind];
}

static const struct {
    const char *words; // in order, lower case, one blank before, between and behind
    GuardKind kind;
} headings[] = {
    {" date of birth ", GUARD_BIRTH},
    {" birth date ", GUARD_BIRTH},
    {" birthdate ", GUARD_BIRTH},
    {" birthday ", GUARD_BIRTH},
    {" dob ", GUARD_BIRTH},
    {" d o b ", GUARD_BIRTH},
    {" year of birth ", GUARD_BIRTH},
    {" born ", GUARD_BIRTH},
    {" surname ", GUARD_NAME},
    {" forename ", GUARD_NAME},
    {" first name ", GUARD_NAME},
    {" last name ", GUARD_NAME},
    {" family name ", GUARD_NAME},
    {" given name ", GUARD_NAME},
    {" patient name ", GUARD_NAME},
    {" name of patient ", GUARD_NAME},
    {" patients name ", GUARD_NAME},
    {" full name ", GUARD_NAME},
    {" next of kin ", GUARD_NAME},
    {" doctor name ", GUARD_NAME},
    {" national number ", GUARD_NUMBER},
    {" national no ", GUARD_NUMBER},
    {" hospital number ", GUARD_NUMBER},
    {" hospital no ", GUARD_NUMBER},
    {" patient number ", GUARD_NUMBER},
    {" patient no ", GUARD_NUMBER},
    {" health number ", GUARD_NUMBER},
    {" record number ", GUARD_NUMBER},
    {" insurance number ", GUARD_NUMBER},
    {" social security ", GUARD_NUMBER},
    {" mrn ", GUARD_NUMBER},
    {" e mail ", GUARD_EMAIL},
    {" email ", GUARD_EMAIL},
    {" phone ", GUARD_PHONE},
    {" telephone ", GUARD_PHONE},
    {" mobile number ", GUARD_PHONE},
    {" bleep ", GUARD_PHONE},
    {" postcode ", GUARD_POSTCODE},
    {" post code ", GUARD_POSTCODE},
    {" postal code ", GUARD_POSTCODE},
    {" zip ", GUARD_POSTCODE},
    {" zip code ", GUARD_POSTCODE},
    {" home address ", GUARD_POSTCODE},
    {" patient address ", GUARD_POSTCODE},
    {" address ", GUARD_POSTCODE},
};

GuardKind guard_heading(const char *heading, size_t length) {
    char *words = vocabulary_plain(heading, length);
    GuardKind kind = GUARD_NONE;
    for (size_t i = 0; kind == GUARD_NONE && i < G_N_ELEMENTS(headings); i++)
        if (strstr(words, headings[i].words))
            kind = headings[i].kind;
    g_free(words);
    return kind;
}

static bool is_word(char c) {
    return g_ascii_isalnum(c) || (unsigned char)c >= 0x80;
}

static bool email(const char *s, size_t n) {
    for (size_t at = 1; at + 3 < n; at++) {
        if (s[at] != '@' || !is_word(s[at - 1]) || !is_word(s[at + 1]))
            continue;
        for (size_t i = at + 1; i + 2 < n && (is_word(s[i]) || strchr("-._", s[i])); i++)
            if (s[i] == '.' && g_ascii_isalpha(s[i + 1]) && g_ascii_isalpha(s[i + 2]))
                return true;
    }
    return false;
}

// A run of digits with blanks, hyphens, dots or brackets: + and 8 to 15 digits, or a first group of
// 3 to 5 digits from 0 on, 9 to 12 digits in all, in two groups or more.
static bool phone_at(const char *s, size_t n) {
    const bool plus = s[0] == '+';
    size_t digits = 0, first = 0, groups = 0, end = 0;
    bool in_group = false;
    for (size_t i = plus; i < n && (g_ascii_isdigit(s[i]) || strchr(" -()", s[i])); i++) {
        if (!g_ascii_isdigit(s[i])) {
            in_group = false;
            continue;
        }
        groups += !in_group;
        in_group = true;
        first += groups == 1;
        digits++;
        end = i + 1;
    }
    if (end < n && (is_word(s[end]) || strchr(":/", s[end])))
        return false; // a stamp, or part of a code
    if (plus)
        return digits >= 8 && digits <= 15;
    return s[0] == '0' && first >= 3 && first <= 5 && groups >= 2 && digits >= 9 && digits <= 12;
}

static bool phone(const char *s, size_t n) {
    for (size_t i = 0; i + 8 < n; i++)
        if ((s[i] == '+' || s[i] == '0') && (i == 0 || !is_word(s[i - 1])) &&
            phone_at(s + i, n - i))
            return true;
    return false;
}

// Length of a postcode at s: one or two letters, a digit, perhaps one more letter or digit, perhaps
// a blank, a digit, two letters; 0 if there is none.
static size_t postcode_at(const char *s, size_t n, bool *blank) {
    size_t i = 0;
    while (i < n && i < 2 && g_ascii_isupper(s[i]))
        i++;
    if (i == 0 || i >= n || !g_ascii_isdigit(s[i]))
        return 0;
    for (size_t more = 0; more < 2; more++) { // without and with a second letter or digit
        size_t k = i + 1 + more;
        if (more && (k > n || !g_ascii_isalnum(s[k - 1])))
            break;
        *blank = k < n && s[k] == ' ';
        k += *blank;
        if (k + 3 <= n && g_ascii_isdigit(s[k]) && g_ascii_isupper(s[k + 1]) &&
            g_ascii_isupper(s[k + 2]) && (k + 3 == n || !is_word(s[k + 3])))
            return k + 3;
    }
    return 0;
}

static bool postcode(const char *s, size_t n) {
    bool blank = false;
    for (size_t i = 0; i + 6 < n + 1; i++)
        if (g_ascii_isupper(s[i]) && (i == 0 || !is_word(s[i - 1])) &&
            postcode_at(s + i, n - i, &blank) > 0 && blank)
            return true;
    return false;
}

static bool begins(const char *s, size_t n, const char *word) {
    const size_t length = strlen(word);
    return n >= length && g_ascii_strncasecmp(s, word, length) == 0;
}

// A title, then a word with a capital: Mr, Mrs, Ms, Miss, Dr, Prof, Sister, Master.
static bool titled(const char *s, size_t n) {
    static const char *const titles[] = {"Mrs", "Mr", "Ms", "Miss", "Dr", "Professor", "Prof"};
    for (size_t i = 0; i + 4 < n; i++) {
        if ((s[i] != 'M' && s[i] != 'D' && s[i] != 'P') || (i > 0 && is_word(s[i - 1])))
            continue;
        for (size_t t = 0; t < G_N_ELEMENTS(titles); t++) {
            if (!begins(s + i, n - i, titles[t]))
                continue;
            size_t k = i + strlen(titles[t]);
            k += k < n && s[k] == '.';
            const size_t gap = k;
            while (k < n && s[k] == ' ')
                k++;
            if ((k > gap || s[gap - 1] == '.') && k + 1 < n && g_ascii_isupper(s[k]) &&
                (is_word(s[k + 1]) || s[k + 1] == '\''))
                return true;
        }
    }
    return false;
}

// A number from 90 to 119 that words call an age: "aged 94", "94 years", "94-year-old", "94 yo".
static bool old_age(const char *s, size_t n) {
    static const char *const units[] = {"y/o", "yo", "yrs", "yr", "years", "year"};
    for (size_t i = 0; i < n; i++) {
        if (!g_ascii_isdigit(s[i]) || (i > 0 && (is_word(s[i - 1]) || strchr(".,-/:", s[i - 1]))))
            continue;
        size_t end = i;
        unsigned value = 0;
        while (end < n && g_ascii_isdigit(s[end]) && end - i < 4)
            value = value * 10 + (unsigned)g_ascii_digit_value(s[end++]);
        const bool old = value >= 90 && value <= 119;
        size_t k = end;
        while (k < n && (s[k] == ' ' || s[k] == '-'))
            k++;
        for (size_t u = 0; old && u < G_N_ELEMENTS(units); u++)
            if (begins(s + k, n - k, units[u]))
                return true;
        if (old &&
            ((i >= 5 && begins(s + i - 5, 5, "aged ")) || (i >= 4 && begins(s + i - 4, 4, "age "))))
            return true;
        i = end;
    }
    return false;
}

// Signs that forms have: in a text without them they need not be looked for.
typedef struct {
    unsigned digits, marks; // marks: hyphens, dots and slashes
    bool at, blank, hyphen, dot, slash, y;
} Signs;

static Signs signs_of(const char *text, size_t length) {
    Signs s = {0};
    for (size_t i = 0; i < length; i++) {
        const char c = text[i];
        if (g_ascii_isdigit(c)) {
            s.digits++;
            continue;
        }
        s.at = s.at || c == '@';
        s.blank = s.blank || c == ' ';
        s.hyphen = s.hyphen || c == '-';
        s.dot = s.dot || c == '.';
        s.slash = s.slash || c == '/';
        s.y = s.y || c == 'y' || c == 'Y';
        s.marks += c == '-' || c == '.' || c == '/';
    }
    return s;
}

static GuardKind kind_of(const char *text, size_t length, const Signs *has) {
    if (length < 4)
        return GUARD_NONE;
    if (has->at && email(text, length))
        return GUARD_EMAIL;
    if (has->digits >= 8 && phone(text, length))
        return GUARD_PHONE;
    if ((has->blank || has->dot) && titled(text, length))
        return GUARD_NAME;
    if ((has->blank || ((has->hyphen || has->dot) && has->y)) && old_age(text, length))
        return GUARD_AGE;
    return has->blank && postcode(text, length) ? GUARD_POSTCODE : GUARD_NONE;
}

GuardKind guard_cell(const char *text, size_t length) {
    const Signs has = signs_of(text, length);
    return kind_of(text, length, &has);
}

bool guard_check_digit(const char *s, size_t n, bool *ten_digits) {
    unsigned digits = 0, sum = 0, last = 0;
    *ten_digits = false;
    for (size_t i = 0; i < n; i++) {
        if (s[i] == ' ' || s[i] == '-')
            continue;
        if (!g_ascii_isdigit(s[i]) || digits == 10)
            return false;
        last = (unsigned)g_ascii_digit_value(s[i]);
        sum += digits < 9 ? last * (10 - digits) : 0;
        digits++;
    }
    *ten_digits = digits == 10;
    const unsigned check = (11 - sum % 11) % 11;
    return *ten_digits && check != 10 && check == last;
}

// Two to four words of letters, each with a capital, perhaps a comma between.
static bool name(const char *s, size_t n) {
    unsigned words = 0;
    for (size_t i = 0; i < n;) {
        const size_t start = i;
        if (!g_ascii_isupper(s[i]) && (unsigned char)s[i] < 0x80)
            return false;
        while (i < n && (g_ascii_isalpha(s[i]) || (unsigned char)s[i] >= 0x80 ||
                         (i > start && strchr("'-", s[i]))))
            i++;
        if (i - start < 2)
            return false;
        words++;
        i += i < n && s[i] == ',';
        if (i < n && s[i] != ' ')
            return false;
        while (i < n && s[i] == ' ')
            i++;
    }
    return words >= 2 && words <= 4;
}

// The year of a calendar date written with hyphens, slashes or dots, anywhere in the cell, 0 if
// none.
static unsigned year_of(const char *s, size_t n) {
    for (size_t i = 0; i + 8 <= n; i++) {
        if (i > 0 && g_ascii_isdigit(s[i - 1]))
            continue;
        unsigned part[3] = {0}, digits[3] = {0};
        size_t k = i;
        for (unsigned p = 0; p < 3; p++) {
            while (k < n && g_ascii_isdigit(s[k]) && digits[p] < 5)
                part[p] = part[p] * 10 + (unsigned)g_ascii_digit_value(s[k++]), digits[p]++;
            if (p < 2 && !(k < n && strchr("-/.", s[k++])))
                digits[p] = 9;
        }
        if (digits[0] == 4 && digits[1] <= 2 && digits[2] <= 2 && digits[1] && digits[2] &&
            part[1] <= 12 && part[2] <= 31)
            return part[0];
        if (digits[2] == 4 && digits[0] <= 2 && digits[1] <= 2 && digits[0] && digits[1] &&
            part[0] <= 31 && part[1] <= 31)
            return part[2];
    }
    return 0;
}

// The length of a date of two digits each at s, with slashes or dots: 3/4/51; 0 if there is none.
static size_t short_date_at(const char *s, size_t n, unsigned *year) {
    unsigned part[3] = {0}, digits[3] = {0};
    size_t k = 0;
    for (unsigned p = 0; p < 3; p++) {
        while (k < n && g_ascii_isdigit(s[k]) && digits[p] < 3)
            part[p] = part[p] * 10 + (unsigned)g_ascii_digit_value(s[k++]), digits[p]++;
        if (p < 2 && !(k < n && (s[k] == '/' || s[k] == '.') && s[k] == s[digits[0]] && k++))
            return 0;
    }
    const bool days = part[0] >= 1 && part[0] <= 31 && part[1] >= 1 && part[1] <= 31;
    *year = part[2];
    return days && MIN(part[0], part[1]) <= 12 && digits[0] <= 2 && digits[1] <= 2 && digits[2] == 2
               ? k
               : 0;
}

static void look_for_short_date(GuardSight *sight, const char *s, size_t n) {
    unsigned year;
    for (size_t i = 0; i + 6 <= n && sight->short_year == 0; i++) {
        if (!g_ascii_isdigit(s[i]) || (i > 0 && (is_word(s[i - 1]) || strchr("./", s[i - 1]))))
            continue;
        const size_t length = short_date_at(s + i, n - i, &year);
        if (length == 0 || (i + length < n && (is_word(s[i + length]) || s[i + length] == '/')))
            continue;
        sight->short_year = (uint8_t)(year + 1);
        sight->whole = length == n;
    }
}

GuardSight guard_look(const char *text, size_t length) {
    bool blank;
    const Signs has = signs_of(text, length);
    GuardSight sight = {.kind = kind_of(text, length, &has)};
    sight.passed = has.digits == 10 && guard_check_digit(text, length, &sight.ten);
    sight.postcode =
        length > 0 && g_ascii_isupper(text[0]) && postcode_at(text, length, &blank) == length;
    sight.name = has.blank && name(text, length);
    const unsigned year = has.digits >= 6 && has.marks >= 2 ? year_of(text, length) : 0;
    sight.year = year >= 1890 && year <= 2200 ? (uint16_t)year : 0;
    if (sight.year == 0 && (has.slash || has.dot))
        look_for_short_date(&sight, text, length);
    return sight;
}

// Whether ten digits, in one run or grouped 3-3-4 by blanks or hyphens, pass the check.
static bool holds_number(const char *s, size_t n) {
    for (size_t i = 0; i + 10 <= n; i++) {
        if (!g_ascii_isdigit(s[i]) || (i > 0 && g_ascii_isdigit(s[i - 1])))
            continue;
        const bool grouped =
            strchr(" -", s[i + 3]) && s[i + 3] && i + 12 <= n && strchr(" -", s[i + 7]) && s[i + 7];
        const size_t length = grouped ? 12 : 10;
        bool ten;
        if ((i + length == n || !g_ascii_isdigit(s[i + length])) &&
            guard_check_digit(s + i, length, &ten) &&
            (grouped || (!memchr(s + i, ' ', length) && !memchr(s + i, '-', length))))
            return true;
    }
    return false;
}

bool guard_may_show(const char *s, size_t n) {
    return guard_cell(s, n) == GUARD_NONE && !holds_number(s, n);
}

static void count(GuardColumn *c, bool is, uint64_t *number, GuardKind kind, uint32_t line) {
    if (!is)
        return;
    ++*number;
    if (c->first_line[kind] == 0)
        c->first_line[kind] = line;
}

// 0 = no year yet.
static void widen(uint16_t *low, uint16_t *high, uint16_t from, uint16_t to) {
    *low = *low == 0 ? from : MIN(*low, from);
    *high = MAX(*high, to);
}

void guard_add(GuardColumn *c, const GuardSight *s, uint32_t line) {
    c->cells++;
    c->ten += s->ten;
    if (s->kind != GUARD_NONE && c->kind == GUARD_NONE)
        c->kind = s->kind, c->line = line;
    count(c, s->stray, &c->strays, GUARD_NUMBER, line);
    count(c, s->passed, &c->passed, GUARD_NUMBER, line);
    count(c, s->postcode, &c->postcodes, GUARD_POSTCODE, line);
    count(c, s->name, &c->names, GUARD_NAME, line);
    count(c, s->year > 0, &c->dates, GUARD_BIRTH, line);
    if (s->year > 0)
        widen(&c->low, &c->high, s->year, s->year);
    if (s->short_year == 0 || !s->whole)
        return;
    count(c, true, &c->short_dates, GUARD_BIRTH, line);
    widen(&c->short_low, &c->short_high, s->short_year, s->short_year);
}

void guard_merge(GuardColumn *into, const GuardColumn *later, uint32_t line_base) {
    into->cells += later->cells;
    into->ten += later->ten;
    into->passed += later->passed;
    into->strays += later->strays;
    into->postcodes += later->postcodes;
    into->names += later->names;
    into->dates += later->dates;
    into->short_dates += later->short_dates;
    if (later->dates > 0)
        widen(&into->low, &into->high, later->low, later->high);
    if (later->short_dates > 0)
        widen(&into->short_low, &into->short_high, later->short_low, later->short_high);
    for (size_t k = 0; k < G_N_ELEMENTS(into->first_line); k++)
        if (into->first_line[k] == 0 && later->first_line[k] > 0)
            into->first_line[k] = later->first_line[k] + line_base;
    if (into->kind == GUARD_NONE && later->kind != GUARD_NONE)
        into->kind = later->kind, into->line = later->line + line_base;
}

// Chance that at least k of n random ten-digit numbers pass the check.
static double chance(uint64_t k, uint64_t n) {
    const double p = 1.0 / 11, odds = p / (1 - p);
    double term = exp(lgamma((double)n + 1) - lgamma((double)k + 1) - lgamma((double)(n - k) + 1) +
                      (double)k * log(p) + (double)(n - k) * log1p(-p));
    double sum = 0;
    for (uint64_t i = k; i <= n && term > 1e-12; i++) {
        sum += term;
        term *= (double)(n - i) / (double)(i + 1) * odds;
    }
    return sum;
}

static bool are_numbers(const GuardColumn *c) {
    const bool stray = c->strays > 0 && 2 * c->ten < c->cells;
    return stray || (c->passed >= 3 && (double)c->passed > (double)c->ten / 11 &&
                     chance(c->passed, c->ten) < 0.001);
}

GuardKind guard_verdict(const GuardColumn *c, uint32_t *line) {
    GuardKind kind = c->kind;
    if (kind != GUARD_NONE)
        *line = c->line;
    else if (are_numbers(c))
        kind = GUARD_NUMBER;
    else if ((c->dates >= 5 && c->high - c->low >= 15) ||
             (c->short_dates >= 5 && c->short_high - c->short_low >= 15))
        kind = GUARD_BIRTH;
    else if (c->names >= 3 && 2 * c->names > c->cells)
        kind = GUARD_NAME;
    else if (c->postcodes >= 5 && 5 * c->postcodes >= 4 * c->cells)
        kind = GUARD_POSTCODE;
    if (c->kind == GUARD_NONE && kind != GUARD_NONE)
        *line = c->first_line[kind];
    return kind;
}
