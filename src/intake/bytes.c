// SPDX-License-Identifier: GPL-3.0-or-later
// Reads, hashes and checks bytes.
#include "intake/bytes.h"

#include "intake/reader.h"

#include <errno.h>
#include <fcntl.h>
#include <openssl/evp.h>
#include <string.h>
#include <unistd.h>

struct Bytes {
    Input *input;
    int file;
    EVP_MD_CTX *sha;
    bool ended;
};

Bytes *bytes_open(Input *input, GError **error) {
    const int file =
        strcmp(input->path, "-") ? open(input->path, O_RDONLY | O_CLOEXEC) : dup(STDIN_FILENO);
    if (file < 0) {
        g_set_error(error, READER_ERROR, READER_ERROR_INPUT, "%s: %s", input->path,
                    g_strerror(errno));
        return NULL;
    }
    Bytes *b = g_new0(Bytes, 1);
    b->input = input;
    b->file = file;
    b->sha = EVP_MD_CTX_new();
    EVP_DigestInit_ex(b->sha, EVP_sha256(), NULL);
    input->bytes = 0;
    return b;
}

void bytes_free(Bytes *b) {
    if (!b)
        return;
    unsigned char digest[EVP_MAX_MD_SIZE];
    unsigned size = 0;
    EVP_DigestFinal_ex(b->sha, digest, &size);
    EVP_MD_CTX_free(b->sha);
    GString *hex = g_string_new(NULL);
    for (unsigned i = 0; i < size; i++)
        g_string_append_printf(hex, "%02x", digest[i]);
    g_free(b->input->sha256);
    b->input->sha256 = g_string_free(hex, FALSE);
    close(b->file);
    g_free(b);
}

bool bytes_read(Bytes *b, GString *text, size_t most, GError **error) {
    const gsize before = text->len;
    g_string_set_size(text, before + most);
    ssize_t n;
    do
        n = read(b->file, text->str + before, most);
    while (n < 0 && errno == EINTR);
    g_string_set_size(text, before + (n > 0 ? (gsize)n : 0));
    if (n < 0) {
        g_set_error(error, READER_ERROR, READER_ERROR_INPUT, "%s: %s", b->input->name,
                    g_strerror(errno));
        return false;
    }
    b->ended = n == 0;
    EVP_DigestUpdate(b->sha, text->str + before, (size_t)n);
    b->input->bytes += (uint64_t)n;
    return true;
}

bool bytes_ended(const Bytes *b) {
    return b->ended;
}
