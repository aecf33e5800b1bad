// SPDX-License-Identifier: GPL-3.0-or-later
// Writing one file.
#include "base/outfile.h"

#include "base/interrupt.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

char *outfile_place(const char *path) {
    char *place = g_strdup(path);
    while (strlen(place) > 1 && g_str_has_suffix(place, "/"))
        place[strlen(place) - 1] = 0;
    char *real = g_file_test(place, G_FILE_TEST_IS_SYMLINK) ? realpath(place, NULL) : NULL;
    if (real) {
        g_free(place);
        place = g_strdup(real);
        free(real);
    }
    return place;
}

struct Outfile {
    char *path, *temporary; // temporary: NULL once published
    GMutex busy;            // held while the file is made or moved; for good once told to stop
    Interrupt *interrupt;
};

static bool fail(GError **error, const char *path, int number) {
    g_set_error(error, G_FILE_ERROR, (gint)g_file_error_from_errno(number), "%s: %s", path,
                g_strerror(number));
    return false;
}

// The lock is kept, so that the file is not moved any more before the program ends.
static void stopped(void *user) {
    Outfile *out = user;
    g_mutex_lock(&out->busy);
    if (out->temporary)
        g_unlink(out->temporary);
}

Outfile *outfile_begin(const char *path, int mode, GError **error) {
    Outfile *out = g_new0(Outfile, 1);
    out->path = outfile_place(path);
    out->temporary = g_strconcat(out->path, ".partial-XXXXXX", NULL);
    g_mutex_init(&out->busy);
    out->interrupt = interrupt_watch(stopped, out);
    g_mutex_lock(&out->busy);
    const int fd = g_mkstemp_full(out->temporary, O_RDWR | O_CLOEXEC, mode);
    if (fd < 0) {
        fail(error, path, errno);
        g_clear_pointer(&out->temporary, g_free);
    } else {
        close(fd);
    }
    g_mutex_unlock(&out->busy);
    if (fd < 0)
        g_clear_pointer(&out, outfile_free);
    return out;
}

const char *outfile_name(const Outfile *out) {
    return out->temporary;
}

static bool publish(Outfile *out, bool replace) {
    const int fd = open(out->temporary, O_RDONLY | O_CLOEXEC);
    const bool synced = fd >= 0 && fsync(fd) == 0;
    const int number = errno;
    if (fd >= 0)
        close(fd);
    errno = number;
    return synced && renameat2(AT_FDCWD, out->temporary, AT_FDCWD, out->path,
                               replace ? 0 : RENAME_NOREPLACE) == 0;
}

bool outfile_publish(Outfile *out, bool replace, GError **error) {
    g_mutex_lock(&out->busy);
    const bool good = publish(out, replace) || fail(error, out->path, errno);
    if (good)
        g_clear_pointer(&out->temporary, g_free);
    g_mutex_unlock(&out->busy);
    return good;
}

void outfile_free(Outfile *out) {
    if (!out)
        return;
    g_mutex_lock(&out->busy); // for good, if the program is being told to stop
    if (out->temporary)
        g_unlink(out->temporary);
    g_clear_pointer(&out->temporary, g_free);
    g_mutex_unlock(&out->busy);
    interrupt_end(out->interrupt);
    g_mutex_clear(&out->busy);
    g_free(out->path);
    g_free(out);
}

// Writes into what `open_as` names; errors speak of path.
static bool write_into(const char *open_as, const char *path, const char *text, gsize length,
                       GError **error) {
    FILE *stream = fopen(open_as, "wb");
    bool good = stream && fwrite(text, 1, length, stream) == length;
    int number = errno;
    if (stream && fclose(stream) != 0 && good) {
        good = false;
        number = errno;
    }
    return good || fail(error, path, number);
}

bool outfile_write(const char *path, const char *text, gsize length, GError **error) {
    // a link too: /dev/stdout is one, maybe to an ordinary file
    if (g_file_test(path, G_FILE_TEST_IS_SYMLINK) ||
        (g_file_test(path, G_FILE_TEST_EXISTS) && !g_file_test(path, G_FILE_TEST_IS_REGULAR)))
        return write_into(path, path, text, length, error);
    Outfile *out = outfile_begin(path, 0666, error);
    const bool good = out && write_into(outfile_name(out), path, text, length, error) &&
                      outfile_publish(out, true, error);
    outfile_free(out);
    return good;
}
