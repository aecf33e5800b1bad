// SPDX-License-Identifier: GPL-3.0-or-later
// Reading a workbook's parts back. A write that failed leaves a gap as long as a file's buffer: at
// the start or end of a part, or in a sheet's middle, where cells or their text are then missing.
#include "pack/bookcheck.h"

#include <gio/gio.h>
#include <string.h>
#include <unzip.h>

enum { LONGEST_NAME = 200, MOST_AT_ONCE = 1 << 20 };

// Bytes of text up to the next tag; an entity is the one that it stands for.
static gsize text_length(const char *p) {
    gsize length = 0;
    for (; *p && *p != '<'; p++, length++) {
        const char *end = *p == '&' ? strchr(p, ';') : NULL;
        p = end ? end : p;
    }
    return length;
}

static void add_sheet(BookcheckSum *sum, const char *xml) {
    for (const char *p = xml; (p = strchr(p, '<')); p++) {
        if (p[1] == 'c' && p[2] == ' ')
            sum->cells++;
        else if (p[1] == 't' && (p[2] == '>' || p[2] == ' ') && (p = strchr(p, '>')))
            sum->text += text_length(p + 1);
        if (!p)
            return;
    }
}

static bool is_xml(const char *text, gsize length) {
    const GMarkupParser parser = {0};
    GMarkupParseContext *context = g_markup_parse_context_new(&parser, 0, NULL, NULL);
    const bool good = g_markup_parse_context_parse(context, text, (gssize)length, NULL) &&
                      g_markup_parse_context_end_parse(context, NULL);
    g_markup_parse_context_free(context);
    return good;
}

// The whole text of the part that the file stands at, its checksum verified; NULL on failure.
static char *part_text(unzFile zip, const unz_file_info64 *info) {
    const gsize length = (gsize)info->uncompressed_size;
    char *text = g_malloc(length + 1);
    gsize done = 0;
    int n = unzOpenCurrentFile(zip);
    const bool open = n == UNZ_OK;
    while (open && done < length &&
           (n = unzReadCurrentFile(zip, text + done,
                                   (unsigned)MIN(length - done, (gsize)MOST_AT_ONCE))) > 0)
        done += (gsize)n;
    if (open && unzCloseCurrentFile(zip) == UNZ_OK && done == length) {
        text[length] = 0;
        return text;
    }
    g_free(text);
    return NULL;
}

static bool add_part(unzFile zip, BookcheckSum *sum) {
    unz_file_info64 info;
    char name[LONGEST_NAME] = "";
    if (unzGetCurrentFileInfo64(zip, &info, name, sizeof name - 1, NULL, 0, NULL, 0) != UNZ_OK)
        return false;
    char *text = part_text(zip, &info);
    const bool sheet = g_str_has_prefix(name, "xl/worksheets/sheet");
    if (text && sheet)
        add_sheet(sum, text);
    const bool good =
        text && (sheet ? g_str_has_prefix(text, "<?xml ") && g_str_has_suffix(text, "</worksheet>")
                       : is_xml(text, (gsize)info.uncompressed_size));
    g_free(text);
    return good;
}

bool bookcheck_whole(const char *path, const BookcheckSum *put, GError **error) {
    BookcheckSum sum = {0};
    unzFile zip = unzOpen64(path);
    int next = zip ? unzGoToFirstFile(zip) : UNZ_ERRNO;
    bool good = true;
    for (; good && next == UNZ_OK; next = unzGoToNextFile(zip))
        good = add_part(zip, &sum);
    good = good && next == UNZ_END_OF_LIST_OF_FILE && sum.cells >= put->cells &&
           sum.text >= put->text; // more: the library may spell a character at length
    if (zip)
        unzClose(zip);
    if (!good)
        g_set_error(error, G_IO_ERROR, G_IO_ERROR_FAILED,
                    "could not be written whole; is the disk full?");
    return good;
}
