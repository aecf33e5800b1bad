// SPDX-License-Identifier: GPL-3.0-or-later
// Reading a workbook's parts back. A write that failed leaves a gap as long as a file's buffer: at
// the start or end of a part, or in a sheet's middle, where cells or their text are then missing.
#include "pack/bookcheck.h"

#include "base/parallel.h"

#include <gio/gio.h>
#include <string.h>
#include <unzip.h>

enum { LONGEST_NAME = 200, BLOCK = 1 << 18 }; // a cell's text, spelt at length, is shorter

// Bytes of text; an entity is the one that it stands for.
static gsize text_length(const char *p, const char *end) {
    gsize length = 0;
    for (; p < end; p++, length++) {
        const char *last = *p == '&' ? memchr(p, ';', (size_t)(end - p)) : NULL;
        p = last ? last : p;
    }
    return length;
}

// Adds what a piece of a sheet holds, tag by tag with the text behind it; the last tag, whose text
// may go on, is left. Where that begins.
static const char *add_tags(BookcheckSum *sum, const char *p, const char *end) {
    for (const char *next; (next = memchr(p + 1, '<', (size_t)(end - p - 1))); p = next) {
        if (p[1] == 'c' && p[2] == ' ') {
            sum->cells++;
        } else if (p[1] == 't' && (p[2] == '>' || p[2] == ' ')) {
            const char *text = memchr(p, '>', (size_t)(next - p));
            sum->text += text ? text_length(text + 1, next) : 0;
        }
    }
    return p;
}

static bool is_xml(const char *text, gsize length) {
    const GMarkupParser parser = {0};
    GMarkupParseContext *context = g_markup_parse_context_new(&parser, 0, NULL, NULL);
    const bool good = g_markup_parse_context_parse(context, text, (gssize)length, NULL) &&
                      g_markup_parse_context_end_parse(context, NULL);
    g_markup_parse_context_free(context);
    return good;
}

// Reads what follows of the open part; how much, 0 at its end, less on failure.
static int read_on(unzFile zip, char *to, gsize most) {
    const int n = unzReadCurrentFile(zip, to, (unsigned)most);
    return n > 0 && memchr(to, 0, (size_t)n) ? UNZ_ERRNO : n;
}

// Whether the open sheet is whole from its first tag to its last.
static bool add_sheet(unzFile zip, BookcheckSum *sum) {
    static const char first[] = "<?xml ", last[] = "</worksheet>";
    char *block = g_malloc(BLOCK);
    gsize kept = 0;
    int n;
    bool good = true, begun = false;
    while (good && (n = read_on(zip, block + kept, BLOCK - kept)) > 0) {
        const char *end = block + kept + n;
        good = begun || (n > (int)strlen(first) && memcmp(block, first, strlen(first)) == 0);
        begun = true;
        const char *from = good ? add_tags(sum, block, end) : end;
        kept = (gsize)(end - from);
        memmove(block, from, kept);
        good = good && kept < BLOCK;
    }
    good = good && n == 0 && kept == strlen(last) && memcmp(block, last, kept) == 0;
    g_free(block);
    return good;
}

// Whether another open part, which is short, is whole.
static bool other_part(unzFile zip) {
    GString *text = g_string_new(NULL);
    int n;
    do {
        const gsize before = text->len;
        g_string_set_size(text, before + BLOCK);
        n = read_on(zip, text->str + before, BLOCK);
        g_string_set_size(text, before + (gsize)MAX(n, 0));
    } while (n > 0);
    const bool good = n == 0 && is_xml(text->str, text->len);
    g_string_free(text, TRUE);
    return good;
}

// A part, and what was found there.
typedef struct {
    unz64_file_pos at;
    bool whole;
    BookcheckSum sum; // of a sheet
} Part;

// The part that the file stands at; closing it verifies its checksum.
static bool add_part(unzFile zip, BookcheckSum *sum) {
    char name[LONGEST_NAME] = "";
    if (unzGetCurrentFileInfo64(zip, NULL, name, sizeof name - 1, NULL, 0, NULL, 0) != UNZ_OK ||
        unzOpenCurrentFile(zip) != UNZ_OK)
        return false;
    const bool sheet = g_str_has_prefix(name, "xl/worksheets/sheet"),
               good = sheet ? add_sheet(zip, sum) : other_part(zip);
    return unzCloseCurrentFile(zip) == UNZ_OK && good;
}

// Where the parts are; false if that can't be read to the end.
static bool find_parts(const char *path, GArray *parts) {
    unzFile zip = unzOpen64(path);
    int next = zip ? unzGoToFirstFile(zip) : UNZ_ERRNO;
    while (next == UNZ_OK) {
        Part part = {.whole = false};
        next = unzGetFilePos64(zip, &part.at);
        g_array_append_val(parts, part);
        next = next == UNZ_OK ? unzGoToNextFile(zip) : next;
    }
    if (zip)
        unzClose(zip);
    return next == UNZ_END_OF_LIST_OF_FILE;
}

// The parts of a workbook, which threads share out.
typedef struct {
    const char *path;
    GArray *parts;
} Book;

static void check_part(unsigned i, void *user) {
    const Book *book = user;
    Part *part = &g_array_index(book->parts, Part, i);
    unzFile zip = unzOpen64(book->path);
    part->whole = zip && unzGoToFilePos64(zip, &part->at) == UNZ_OK && add_part(zip, &part->sum);
    if (zip)
        unzClose(zip);
}

bool bookcheck_whole(const char *path, const BookcheckSum *put, int threads, GError **error) {
    Book book = {path, g_array_new(FALSE, FALSE, sizeof(Part))};
    BookcheckSum sum = {0};
    bool good = find_parts(path, book.parts);
    parallel_each(good ? book.parts->len : 0, threads, check_part, &book);
    for (guint i = 0; i < book.parts->len; i++) {
        const Part *part = &g_array_index(book.parts, Part, i);
        good = good && part->whole;
        sum.cells += part->sum.cells;
        sum.text += part->sum.text;
    }
    good = good && sum.cells >= put->cells &&
           sum.text >= put->text; // more: the library may spell a character at length
    if (!good)
        g_set_error(error, G_IO_ERROR, G_IO_ERROR_FAILED,
                    "could not be written whole; is the disk full?");
    g_array_unref(book.parts);
    return good;
}
