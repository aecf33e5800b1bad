// SPDX-License-Identifier: GPL-3.0-or-later
// Reads, hashes and decodes bytes.
#include "intake/bytes.h"

#include "intake/reader.h"

#include <errno.h>
#include <fcntl.h>
#include <openssl/evp.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>

#define UTF8 "UTF-8"
#define LATIN "WINDOWS-1252"

struct Bytes {
    Input *input;
    int file;
    EVP_MD_CTX *sha;
    bool ended;
    bool declared;   // the encoding is not for us to find
    bool wide;       // a character beyond ASCII was valid UTF-8
    char *encoding;  // NULL until the first bytes were seen
    bool converts;   // the text is not UTF-8
    GIConv conv;     // then: to UTF-8
    GString *raw;    // read and not decoded yet
    uint64_t before; // bytes before raw
    uint64_t got;    // bytes read
};

// ---- opening ----

static const char no_csv[] = "no line ends in its first MiB, so it is no CSV";
static const char no_room[] =
    "does not end before what is kept of it meanwhile fills " P_tmpdir
    ": save it as a file, or take parts of it; if it has no end, it is no log";

// Whether the disk that a file lies on has a tenth of its room left for others.
static bool has_room(FILE *file) {
    struct statvfs disk;
    return fstatvfs(fileno(file), &disk) != 0 || disk.f_bavail >= disk.f_blocks / 10;
}

// Why writing failed.
static const char *full(void) {
    return errno == ENOSPC || errno == EDQUOT || errno == EFBIG ? no_room : g_strerror(errno);
}

// Copies all that there is to read; NULL, or why that can't be. Bytes in which no line ends might
// never end either.
static const char *copy_all(int from, FILE *to) {
    enum { LOOK_AFTER = 1 << 25 }; // bytes until room is looked for again
    char block[1 << 16];
    bool lines = false;
    size_t got = 0, looked = 0;
    for (ssize_t n; (n = read(from, block, sizeof block)) != 0;) {
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return g_strerror(errno);
        if (fwrite(block, 1, (size_t)n, to) != (size_t)n)
            return full();
        lines = lines || memchr(block, '\n', (size_t)n) || memchr(block, '\r', (size_t)n);
        got += (size_t)n;
        if (!lines && got >= 1 << 20)
            return no_csv;
        if (got - looked < LOOK_AFTER)
            continue;
        if (!has_room(to))
            return no_room;
        looked = got;
    }
    return fflush(to) == 0 ? NULL : full();
}

// A nameless file with all that there is to read; NULL and why on failure.
static FILE *spool(int from, const char **why) {
    FILE *to = tmpfile();
    *why = to ? copy_all(from, to) : g_strerror(errno);
    if (to && *why) {
        fclose(to);
        to = NULL;
    }
    return to;
}

// Whether a person can mean it as a log: a device has no end, unless it is a terminal.
static bool may_be_log(int file, mode_t mode) {
    return S_ISREG(mode) || S_ISFIFO(mode) || S_ISSOCK(mode) || isatty(file);
}

// A descriptor for the input from its first byte on; -1 and why on failure.
static int open_input(Input *input, const char **why) {
    const bool standard = !strcmp(input->path, "-");
    if (!input->spool) {
        struct stat about = {0};
        const int file = standard ? STDIN_FILENO : open(input->path, O_RDONLY | O_CLOEXEC);
        *why = file < 0 || fstat(file, &about) != 0 ? g_strerror(errno)
               : !may_be_log(file, about.st_mode)   ? "is neither a file nor a pipe, so no log"
                                                    : NULL;
        if (!*why && !standard && S_ISREG(about.st_mode))
            return file;
        if (!*why)
            input->spool = spool(file, why);
        if (!standard && file >= 0)
            close(file);
    }
    const int copy = input->spool ? dup(fileno(input->spool)) : -1;
    if (copy >= 0 && lseek(copy, 0, SEEK_SET) == 0)
        return copy;
    *why = *why ? *why : g_strerror(errno);
    return -1;
}

static bool set_encoding(Bytes *b, const char *encoding) {
    g_free(b->encoding);
    b->encoding = g_strdup(encoding);
    if (!g_ascii_strcasecmp(encoding, UTF8) || !g_ascii_strcasecmp(encoding, "UTF8"))
        return true;
    b->conv = g_iconv_open(UTF8, encoding);
    b->converts = (intptr_t)b->conv != -1;
    return b->converts;
}

Bytes *bytes_open(Input *input, const char *encoding, GError **error) {
    const char *why = NULL;
    const int file = open_input(input, &why);
    if (file < 0) {
        g_set_error(error, READER_ERROR, READER_ERROR_INPUT, "%s: %s", input->path, why);
        return NULL;
    }
    Bytes *b = g_new0(Bytes, 1);
    b->input = input;
    b->file = file;
    b->raw = g_string_new(NULL);
    b->sha = EVP_MD_CTX_new();
    EVP_DigestInit_ex(b->sha, EVP_sha256(), NULL);
    b->declared = encoding != NULL;
    if (!encoding || set_encoding(b, encoding))
        return b;
    g_set_error(error, READER_ERROR, READER_ERROR_SETTING, "%s: no encoding '%s' is known",
                input->name, encoding);
    bytes_free(b);
    return NULL;
}

void bytes_free(Bytes *b) {
    if (!b)
        return;
    if (b->converts)
        g_iconv_close(b->conv);
    EVP_MD_CTX_free(b->sha);
    g_string_free(b->raw, TRUE);
    g_free(b->encoding);
    close(b->file);
    g_free(b);
}

// ---- refusing ----

// Line of the byte at an offset, by the line ends before it.
static uint32_t line_at(const Bytes *b, uint64_t offset) {
    char block[1 << 12];
    uint32_t line = 1;
    bool cr = false;
    ssize_t n;
    for (uint64_t at = 0; at < offset; at += (uint64_t)n) {
        n = pread(b->file, block, (size_t)MIN(sizeof block, offset - at), (off_t)at);
        if (n <= 0)
            break;
        for (ssize_t i = 0; i < n; i++) {
            line += block[i] == '\r' || (block[i] == '\n' && !cr);
            cr = block[i] == '\r';
        }
    }
    return line;
}

static bool refuse(const Bytes *b, uint64_t offset, const char *why, GError **error) {
    const bool bytewise = !b->converts || !g_ascii_strcasecmp(b->encoding, LATIN);
    if (bytewise)
        g_set_error(error, READER_ERROR, READER_ERROR_REFUSED, "%s:%u: %s", b->input->name,
                    line_at(b, offset), why);
    else
        g_set_error(error, READER_ERROR, READER_ERROR_REFUSED,
                    "%s: byte %" G_GUINT64_FORMAT ": not %s; %s", b->input->name, offset,
                    b->encoding, why);
    return false;
}

#define SAY_WHICH "say which encoding it is in network.ini, for example encoding = "

// ---- decoding ----

// Which UTF-16 some bytes are by their mark, or by zeros in one half of the pairs alone; NULL if
// they are none.
static const char *utf16(const char *p, size_t n) {
    if (n >= 2 && (!memcmp(p, "\xFF\xFE", 2) || !memcmp(p, "\xFE\xFF", 2)))
        return *p == '\xFF' ? "UTF-16LE" : "UTF-16BE";
    const size_t pairs = MIN(n, 4096) / 2;
    size_t zero[2] = {0, 0};
    for (size_t i = 0; i < 2 * pairs; i++)
        zero[i % 2] += p[i] == 0;
    if (2 * zero[1] > pairs && zero[0] == 0)
        return "UTF-16LE";
    return 2 * zero[0] > pairs && zero[1] == 0 ? "UTF-16BE" : NULL;
}

// The first byte that is NUL or not ASCII, eight at a time.
static const char *plain_end(const char *p, const char *end) {
    const uint64_t ones = 0x0101010101010101u, tops = 0x8080808080808080u;
    for (; end - p >= 8; p += 8) {
        uint64_t eight;
        memcpy(&eight, p, 8);
        if (((eight - ones) | eight) & tops)
            break;
    }
    while (p<end && * p> 0)
        p++;
    return p;
}

enum { INVALID = -1, CUT = -2 }; // as g_utf8_get_char_validated says

// Passes valid UTF-8; returns where it stops, *why says for what: 0 the end, CUT a character that
// the end may have cut, INVALID.
static const char *valid_end(Bytes *b, const char *p, const char *end, int *why) {
    for (*why = 0; (p = plain_end(p, end)) < end; p = g_utf8_next_char(p)) {
        const gunichar c = *p ? g_utf8_get_char_validated(p, end - p) : (gunichar)INVALID;
        *why = c == (gunichar)CUT && !b->ended ? CUT : c >= (gunichar)CUT ? INVALID : 0;
        if (*why)
            break;
        b->wide = true;
    }
    return p;
}

// Bytes that may be taken for Windows-1252: all before a character that is valid UTF-8, *mixed, or
// may prove to be.
static size_t latin_end(const Bytes *b, bool *mixed) {
    const char *p = b->raw->str, *end = p + b->raw->len;
    for (*mixed = false; p < end; p++) {
        if ((unsigned char)*p < 0xC2)
            continue;
        const gunichar c = g_utf8_get_char_validated(p, end - p);
        *mixed = c < (gunichar)CUT;
        if (*mixed || (c == (gunichar)CUT && !b->ended))
            break;
    }
    return (size_t)(p - b->raw->str);
}

// Decodes the first n bytes of raw; what is cut off a character's end stays there.
static bool convert(Bytes *b, GString *text, size_t n, GError **error) {
    const gsize from = text->len;
    char *in = b->raw->str;
    gsize left = n;
    int why = 0;
    while (left > 0 && (why == 0 || why == E2BIG)) {
        char block[1 << 14], *out = block;
        gsize room = sizeof block;
        why = g_iconv(b->conv, &in, &left, &out, &room) == (gsize)-1 ? errno : 0;
        g_string_append_len(text, block, out - block);
    }
    const uint64_t at = b->before + (uint64_t)(in - b->raw->str);
    if (why == EILSEQ || (left > 0 && b->ended))
        return refuse(b, at,
                      b->declared ? "there is a byte that this encoding has not"
                                  : "neither UTF-8 nor Windows-1252; " SAY_WHICH "iso-8859-15",
                      error);
    if (memchr(text->str + from, 0, text->len - from))
        return refuse(b, at, "there are NUL characters in the text before", error);
    b->before = at;
    g_string_erase(b->raw, 0, in - b->raw->str);
    return true;
}

static bool decode_latin(Bytes *b, GString *text, GError **error) {
    bool mixed;
    const size_t n = latin_end(b, &mixed);
    if (mixed)
        return refuse(b, b->before + n,
                      "some of this log is UTF-8 and some is not; " SAY_WHICH "windows-1252",
                      error);
    return convert(b, text, n, error);
}

// Checks that text is UTF-8 from a place on; what is none makes the log Windows-1252, where that
// can be. Bytes that are not passed on move to raw.
static bool decode_utf8(Bytes *b, GString *text, gsize from, GError **error) {
    int why;
    const char *start = text->str + from, *end = text->str + text->len;
    const char *stop = valid_end(b, start, end, &why);
    const bool zero = why == INVALID && *stop == 0;
    b->before += (uint64_t)(stop - start);
    if (zero)
        return refuse(b, b->before, "a NUL byte: this is no text, or " SAY_WHICH "utf-16le", error);
    if (why == INVALID && (b->declared || b->wide))
        return refuse(b, b->before,
                      b->declared ? "not UTF-8, as network.ini says it is"
                                  : "some of this log is UTF-8 and this is not; " SAY_WHICH
                                    "windows-1252",
                      error);
    g_string_append_len(b->raw, stop, end - stop);
    g_string_truncate(text, from + (gsize)(stop - start));
    if (why != INVALID)
        return true;
    if (!set_encoding(b, LATIN))
        return refuse(b, b->before, "not UTF-8", error);
    return decode_latin(b, text, error);
}

// Appends at most `most` bytes to a string, and hashes them.
static bool read_block(Bytes *b, GString *to, size_t most, GError **error) {
    const gsize kept = to->len;
    g_string_set_size(to, kept + most);
    ssize_t n;
    do
        n = read(b->file, to->str + kept, most);
    while (n < 0 && errno == EINTR);
    g_string_set_size(to, kept + (n > 0 ? (gsize)n : 0));
    if (n < 0) {
        g_set_error(error, READER_ERROR, READER_ERROR_INPUT, "%s: %s", b->input->name,
                    g_strerror(errno));
        return false;
    }
    b->ended = n == 0;
    b->got += (uint64_t)n;
    EVP_DigestUpdate(b->sha, to->str + kept, (size_t)n);
    return true;
}

// What the first bytes of a file say that it is, if it is no text that a person exported.
static const char *no_text(const char *p, size_t n) {
    static const struct {
        const char *start, *why;
    } kinds[] = {
        {"PK\3\4", "a workbook (or an archive), no text: save the sheet with the log as CSV"},
        {"\xD0\xCF\x11\xE0", "a workbook, no text: save the sheet with the log as CSV"},
        {"%PDF", "a PDF, no text: ask for the log as CSV"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(kinds); i++)
        if (n >= 4 && !memcmp(p, kinds[i].start, 4))
            return kinds[i].why;
    return NULL;
}

// Finds the encoding by the first bytes.
static bool find_encoding(Bytes *b, size_t most, GError **error) {
    if (!read_block(b, b->raw, most, error))
        return false;
    const char *why = no_text(b->raw->str, b->raw->len);
    if (why)
        return refuse(b, 0, why, error);
    const char *wide = utf16(b->raw->str, b->raw->len);
    b->declared = wide != NULL;
    return set_encoding(b, wide ? wide : UTF8);
}

bool bytes_read(Bytes *b, GString *text, size_t most, GError **error) {
    if (!b->encoding && !find_encoding(b, most, error))
        return false;
    if (!b->converts) { // UTF-8 is read to where it stays
        const gsize from = text->len;
        g_string_append_len(text, b->raw->str, (gssize)b->raw->len);
        g_string_truncate(b->raw, 0);
        return read_block(b, text, most, error) && decode_utf8(b, text, from, error);
    }
    if (!read_block(b, b->raw, most, error))
        return false;
    return b->declared ? convert(b, text, b->raw->len, error) : decode_latin(b, text, error);
}

bool bytes_ended(const Bytes *b) {
    return b->ended;
}

uint64_t bytes_so_far(const Bytes *b) {
    return b->got;
}

const char *bytes_encoding(const Bytes *b) {
    return b->encoding;
}

bool bytes_finish(Bytes *b, GError **error) {
    bool good = true;
    while (good && !b->ended) {
        g_string_truncate(b->raw, 0);
        good = read_block(b, b->raw, 1 << 16, error);
    }
    unsigned char digest[EVP_MAX_MD_SIZE];
    unsigned size = 0;
    EVP_DigestFinal_ex(b->sha, digest, &size);
    GString *hex = g_string_new(NULL);
    for (unsigned i = 0; i < size; i++)
        g_string_append_printf(hex, "%02x", digest[i]);
    g_free(b->input->sha256);
    b->input->sha256 = g_string_free(hex, FALSE);
    b->input->bytes = (uint64_t)lseek(b->file, 0, SEEK_CUR);
    return good;
}
