// SPDX-License-Identifier: GPL-3.0-or-later
// The field table, built from fields.def, and looking things up in it.
#include "record/field.h"

#include <string.h>

#define LIST(list) static const Code codes_##list[] = {
#define CODE(list, name, code, definition) {code, definition},
#define END_LIST(list)                                                                             \
    }                                                                                              \
    ;
#include "record/fields.def"

#define END_LIST(list)                                                                             \
    static const CodeList list_##list = {#list, codes_##list,                                      \
                                         sizeof codes_##list / sizeof codes_##list[0]};
#include "record/fields.def"

const CodeList field_harm = {"harm", codes_harm, sizeof codes_harm / sizeof codes_harm[0]};

const Field field_table[FIELD_COUNT] = {
#define FIELD(name, kind, list, need, description)                                                 \
    {#name, KIND_##kind, &list_##list, NEED_##need, description},
#include "record/fields.def"
};

static char plain(char c) {
    if (c >= 'A' && c <= 'Z')
        return (char)(c - 'A' + 'a');
    if (c == ' ' || c == '_')
        return '-';
    return c;
}

static bool same(const char *word, const char *text, size_t length) {
    while (length > 0 && *word && plain(*word) == plain(*text))
        word++, text++, length--;
    return *word == 0 && length == 0;
}

static void trim(const char **text, size_t *length) {
    while (*length > 0 && (**text == ' ' || **text == '\t'))
        (*text)++, (*length)--;
    while (*length > 0 && ((*text)[*length - 1] == ' ' || (*text)[*length - 1] == '\t'))
        (*length)--;
}

FieldId field_find(const char *name, size_t length) {
    trim(&name, &length);
    const char first = (char)(length > 0 ? plain(*name) : 0);
    for (int f = 0; f < FIELD_COUNT; f++)
        if (*field_table[f].name == first && same(field_table[f].name, name, length))
            return (FieldId)f;
    return FIELD_COUNT;
}

uint8_t field_code(const CodeList *list, const char *text, size_t length) {
    trim(&text, &length);
    const char first = (char)(length > 0 ? plain(*text) : 0);
    for (unsigned i = 0; i < list->n; i++)
        if (*list->codes[i].code == first && same(list->codes[i].code, text, length))
            return (uint8_t)(i + 1);
    return 0;
}

const char *field_code_text(const CodeList *list, unsigned value) {
    return value >= 1 && value <= list->n ? list->codes[value - 1].code : "unknown";
}
