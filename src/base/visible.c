// SPDX-License-Identifier: GPL-3.0-or-later
// Foreign text among ours: characters that nobody sees, and scripts that run from right to left.
#include "base/visible.h"

#include <string.h>

enum { ISOLATE = 0x2068, END = 0x2069 };

typedef struct {
    gunichar first, last;
} Range;

static bool among(gunichar c, const Range *ranges, gsize n) {
    for (gsize i = 0; i < n; i++)
        if (c >= ranges[i].first && c <= ranges[i].last)
            return true;
    return false;
}

// DerivedCoreProperties.txt of Unicode 15: Default_Ignorable_Code_Point.
static bool is_unseen(gunichar c) {
    static const Range unseen[] = {
        {0xAD, 0xAD},       {0x34F, 0x34F},   {0x61C, 0x61C},     {0x115F, 0x1160},
        {0x17B4, 0x17B5},   {0x180B, 0x180F}, {0x200B, 0x200F},   {0x202A, 0x202E},
        {0x2060, 0x206F},   {0x3164, 0x3164}, {0xFE00, 0xFE0F},   {0xFEFF, 0xFEFF},
        {0xFFA0, 0xFFA0},   {0xFFF0, 0xFFF8}, {0x1BCA0, 0x1BCA3}, {0x1D173, 0x1D17A},
        {0xE0000, 0xE0FFF},
    };
    return among(c, unseen, G_N_ELEMENTS(unseen));
}

bool visible_turns(gunichar c) {
    static const Range turns[] = {
        {0x61C, 0x61C}, {0x200E, 0x200F}, {0x202A, 0x202E}, {0x2066, 0x2067}};
    return among(c, turns, G_N_ELEMENTS(turns));
}

// DerivedBidiClass.txt of Unicode 15: the blocks whose letters are R or AL.
static bool runs_left(gunichar c) {
    static const Range left[] = {
        {0x590, 0x8FF}, {0xFB1D, 0xFDFF}, {0xFE70, 0xFEFE}, {0x10800, 0x10FFF}, {0x1E800, 0x1EFFF}};
    return c >= 0x590 && among(c, left, G_N_ELEMENTS(left));
}

static bool is_ascii(const char *text, gsize length) {
    guint64 word, words = 0;
    guchar rest = 0;
    for (; length >= sizeof word; text += sizeof word, length -= sizeof word) {
        memcpy(&word, text, sizeof word);
        words |= word;
    }
    for (; length > 0; text++, length--)
        rest |= (guchar)*text;
    return ((words & 0x8080808080808080u) | (rest & 0x80u)) == 0;
}

char *visible_only(const char *text, gssize length) {
    const gsize n = length < 0 ? strlen(text) : (gsize)length;
    if (is_ascii(text, n) || !g_utf8_validate_len(text, n, NULL))
        return NULL;
    GString *out = g_string_sized_new(n);
    for (const char *p = text, *next; p < text + n; p = next) {
        const gunichar c = g_utf8_get_char(p);
        next = g_utf8_next_char(p);
        const bool joins = (c == 0x200C || c == 0x200D) && out->len > 0 && next < text + n &&
                           (guchar)out->str[out->len - 1] >= 0x80 && (guchar)*next >= 0x80 &&
                           !is_unseen(g_utf8_get_char(next));
        if (!is_unseen(c) || joins)
            g_string_append_unichar(out, c >= 0x80 && g_unichar_isspace(c) ? ' ' : c);
    }
    const bool same = out->len == n;
    char *kept = g_string_free(out, FALSE);
    if (same)
        g_clear_pointer(&kept, g_free);
    return kept ? g_strstrip(kept) : NULL;
}

bool visible_nothing(const char *text, gsize length) {
    while (length > 0 && g_ascii_isspace(*text))
        text++, length--;
    if (length == 0 || g_ascii_isgraph(*text))
        return length == 0;
    char *seen = visible_only(text, (gssize)length);
    const bool nothing = seen && !*seen;
    g_free(seen);
    return nothing;
}

char *visible_copy(const char *text, gssize length) {
    char *kept = visible_only(text, length);
    return kept ? kept : g_strndup(text, length < 0 ? strlen(text) : (gsize)length);
}

const char *visible_isolated(const char *text) {
    if (is_ascii(text, strlen(text)))
        return text;
    bool left = false;
    for (const char *p = text; *p && !left; p = g_utf8_next_char(p))
        left = runs_left(g_utf8_get_char_validated(p, -1) < 0x110000 ? g_utf8_get_char(p) : 0);
    if (!left)
        return text;
    GString *whole = g_string_new(NULL);
    g_string_append_unichar(whole, ISOLATE);
    g_string_append(whole, text);
    g_string_append_unichar(whole, END);
    const char *kept = g_intern_string(whole->str);
    g_string_free(whole, TRUE);
    return kept;
}
