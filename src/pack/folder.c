// SPDX-License-Identifier: GPL-3.0-or-later
// Whole or not at all: a temporary folder, each file synced (several at a time, since a disk takes
// them together), then one rename (an exchange where an old pack is replaced).
#include "pack/folder.h"

#include "base/interrupt.h"
#include "base/ours.h"
#include "base/outfile.h"

#include <errno.h>
#include <fcntl.h>
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <openssl/evp.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { AT_A_TIME = 4, MOST_WAITING = 64 }; // files that are synced; that wait for each thread

struct Folder {
    char *target, *temporary, *scratch;
    GPtrArray *below;                // names of subfolders made
    GThreadPool *syncing[AT_A_TIME]; // of Written, a thread each; made with the first file
    guint written;                   // files so far: they go to these by turns
    gpointer failed;                 // GError of the first file that could not be synced
    int fd;
    bool force;
    GMutex busy;          // held while anything is made or moved; for good once told to stop
    Interrupt *interrupt; // removes the temporary folder when the program is told to stop
};

// A file that is to be synced and closed.
typedef struct {
    char *name;
    int fd;
} Written;

static bool fail(GError **error, const char *what) {
    g_set_error(error, G_FILE_ERROR, (gint)g_file_error_from_errno(errno), "%s: %s", what,
                g_strerror(errno));
    return false;
}

static void remove_tree(const char *path) {
    GDir *dir = g_dir_open(path, 0, NULL);
    for (const char *name; dir && (name = g_dir_read_name(dir));) {
        char *below = g_build_filename(path, name, NULL);
        if (g_file_test(below, G_FILE_TEST_IS_DIR) && !g_file_test(below, G_FILE_TEST_IS_SYMLINK))
            remove_tree(below);
        else
            g_unlink(below);
        g_free(below);
    }
    if (dir)
        g_dir_close(dir);
    g_rmdir(path);
}

// Only an empty folder or one that an earlier run wrote.
static bool may_go(const char *path) {
    const bool own = ours_is(path);
    GDir *dir = own ? NULL : g_dir_open(path, 0, NULL);
    const bool empty = dir && !g_dir_read_name(dir);
    if (dir)
        g_dir_close(dir);
    return own || empty;
}

bool folder_may_begin(const char *target, bool force, GError **error) {
    const char *why = NULL;
    char *place = outfile_place(target);
    if (g_file_test(place, G_FILE_TEST_IS_SYMLINK))
        why = "is a link that leads nowhere, so it is not replaced";
    else if (!g_file_test(place, G_FILE_TEST_EXISTS))
        why = NULL;
    else if (!g_file_test(place, G_FILE_TEST_IS_DIR))
        why = "is there already and is no folder, so it is not replaced";
    else if (!may_go(place))
        why = "is there already and holds other files than a pack's, so it is not replaced";
    else if (!force)
        why = "is there already; --force replaces it";
    if (why)
        g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_EXIST, "%s %s", target, why);
    g_free(place);
    return !why;
}

// Again if it is still there: a program that draws may make one more file meanwhile, and a folder
// may not open for want of something.
static void remove_whole(const char *path) {
    enum { TRIES = 200 };
    for (int i = 0; i < TRIES && g_file_test(path, G_FILE_TEST_EXISTS); i++)
        remove_tree(path);
}

// The lock is kept, so that nothing is made any more before the program ends.
static void stopped(void *user) {
    Folder *f = user;
    g_mutex_lock(&f->busy);
    if (f->temporary)
        remove_whole(f->temporary);
}

Folder *folder_begin(const char *target, bool force, GError **error) {
    if (!folder_may_begin(target, force, error))
        return NULL;
    Folder *f = g_new0(Folder, 1);
    f->target = outfile_place(target);
    f->temporary = g_strdup_printf("%s.partial-XXXXXX", f->target);
    f->below = g_ptr_array_new_with_free_func(g_free);
    f->force = force;
    f->fd = -1;
    g_mutex_init(&f->busy);
    f->interrupt = interrupt_watch(stopped, f);
    g_mutex_lock(&f->busy);
    if (g_mkdtemp(f->temporary))
        f->fd = open(f->temporary, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    g_mutex_unlock(&f->busy);
    if (f->fd >= 0)
        return f;
    fail(error, f->target);
    folder_free(f);
    return NULL;
}

// Makes the subfolder that a name lies in, if any and not there yet.
static bool make_below(Folder *f, const char *name, GError **error) {
    const char *slash = strchr(name, '/');
    if (!slash)
        return true;
    char *below = g_strndup(name, (gsize)(slash - name));
    bool good = true;
    if (!g_ptr_array_find_with_equal_func(f->below, below, g_str_equal, NULL)) {
        good = mkdirat(f->fd, below, 0755) == 0 || fail(error, below);
        g_ptr_array_add(f->below, g_strdup(below));
    }
    g_free(below);
    return good;
}

static void sync_one(gpointer data, gpointer user) {
    Written *w = data;
    Folder *f = user;
    GError *error = NULL;
    if (fsync(w->fd) != 0)
        fail(&error, w->name);
    if (close(w->fd) != 0 && !error)
        fail(&error, w->name);
    if (error && !g_atomic_pointer_compare_and_exchange(&f->failed, NULL, error))
        g_error_free(error);
    g_free(w->name);
    g_free(w);
}

// Waits until every file is synced.
static bool sync_files(Folder *f, GError **error) {
    for (guint i = 0; i < AT_A_TIME; i++) {
        if (f->syncing[i])
            g_thread_pool_free(f->syncing[i], FALSE, TRUE);
        f->syncing[i] = NULL;
    }
    if (!f->failed)
        return true;
    g_propagate_error(error, f->failed);
    f->failed = NULL;
    return false;
}

// Takes the file over.
static void sync_later(Folder *f, const char *name, int fd) {
    Written *w = g_new(Written, 1);
    GThreadPool **pool = &f->syncing[f->written++ % AT_A_TIME];
    *w = (Written){g_strdup(name), fd};
    if (!*pool)
        *pool = g_thread_pool_new(sync_one, f, 1, TRUE, NULL);
    if (*pool && g_thread_pool_unprocessed(*pool) < MOST_WAITING)
        g_thread_pool_push(*pool, w, NULL);
    else
        sync_one(w, f);
}

struct FolderFile {
    Folder *f;
    char *name;
    int fd;
    EVP_MD_CTX *sha; // NULL: no sum is wanted
    guint64 bytes;
    GError *error; // the first one
};

FolderFile *folder_open(Folder *f, const char *name, bool summed) {
    FolderFile *file = g_new0(FolderFile, 1);
    *file = (FolderFile){.f = f, .name = g_strdup(name), .fd = -1};
    g_mutex_lock(&f->busy);
    if (make_below(f, name, &file->error)) {
        file->fd = openat(f->fd, name, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0644);
        if (file->fd < 0)
            fail(&file->error, name);
    }
    g_mutex_unlock(&f->busy);
    if (summed &&
        (!(file->sha = EVP_MD_CTX_new()) || EVP_DigestInit_ex(file->sha, EVP_sha256(), NULL) != 1))
        g_error("no SHA-256");
    return file;
}

void folder_add(gpointer file, const char *text, gsize length) {
    FolderFile *to = file;
    gsize done = 0;
    while (!to->error && done < length) {
        const ssize_t n = write(to->fd, text + done, length - done);
        if (n < 0 && errno != EINTR)
            fail(&to->error, to->name);
        done += n > 0 ? (gsize)n : 0;
    }
    to->bytes += length;
    if (to->sha)
        EVP_DigestUpdate(to->sha, text, length);
}

static FolderSum sum_of(FolderFile *file) {
    unsigned char digest[EVP_MAX_MD_SIZE];
    unsigned size = 0;
    FolderSum sum = {.bytes = file->bytes};
    if (file->sha)
        EVP_DigestFinal_ex(file->sha, digest, &size);
    for (unsigned i = 0; i < size && 2 * i + 2 < sizeof sum.sha256; i++)
        g_snprintf(sum.sha256 + (size_t)2 * i, 3, "%02x", digest[i]);
    return sum;
}

bool folder_close(FolderFile *file, FolderSum *sum, GError **error) {
    const bool good = !file->error;
    if (sum)
        *sum = sum_of(file);
    if (good) {
        g_mutex_lock(&file->f->busy);
        sync_later(file->f, file->name, file->fd);
        g_mutex_unlock(&file->f->busy);
    } else {
        g_propagate_error(error, file->error);
        if (file->fd >= 0)
            close(file->fd);
    }
    EVP_MD_CTX_free(file->sha);
    g_free(file->name);
    g_free(file);
    return good;
}

bool folder_write(Folder *f, const char *name, const char *text, gsize length, GError **error) {
    FolderFile *file = folder_open(f, name, false);
    folder_add(file, text, length);
    return folder_close(file, NULL, error);
}

const char *folder_scratch(Folder *f, GError **error) {
    if (f->scratch)
        return f->scratch;
    g_mutex_lock(&f->busy);
    f->scratch = g_build_filename(f->temporary, "scratch", NULL);
    if (g_mkdir(f->scratch, 0700) != 0) {
        fail(error, f->scratch);
        g_clear_pointer(&f->scratch, g_free);
    }
    g_mutex_unlock(&f->busy);
    return f->scratch;
}

static bool sync_below(Folder *f, GError **error) {
    bool good = true;
    for (guint i = 0; good && i < f->below->len; i++) {
        const int fd = openat(f->fd, f->below->pdata[i], O_RDONLY | O_DIRECTORY | O_CLOEXEC);
        good =
            (fd >= 0 && fchmod(fd, 0755) == 0 && fsync(fd) == 0) || fail(error, f->below->pdata[i]);
        if (fd >= 0)
            close(fd);
    }
    return good;
}

static void sync_parent(const char *path) {
    char *parent = g_path_get_dirname(path);
    const int fd = open(parent, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd >= 0) {
        fsync(fd);
        close(fd);
    }
    g_free(parent);
}

static bool publish(Folder *f, GError **error) {
    if (f->scratch)
        remove_tree(f->scratch);
    if (!sync_files(f, error) || !sync_below(f, error))
        return false;
    if (fchmod(f->fd, 0755) != 0 || fsync(f->fd) != 0)
        return fail(error, f->target);
    if (renameat2(AT_FDCWD, f->temporary, AT_FDCWD, f->target, RENAME_NOREPLACE) == 0) {
        g_clear_pointer(&f->temporary, g_free);
    } else if (errno != EEXIST || !f->force ||
               renameat2(AT_FDCWD, f->temporary, AT_FDCWD, f->target, RENAME_EXCHANGE) != 0) {
        return fail(error, f->target);
    }
    sync_parent(
        f->target); // after an exchange the old pack has the temporary name; folder_free removes it
    return true;
}

bool folder_publish(Folder *f, GError **error) {
    g_mutex_lock(&f->busy);
    const bool good = publish(f, error);
    g_mutex_unlock(&f->busy);
    return good;
}

void folder_free(Folder *f) {
    if (!f)
        return;
    g_mutex_lock(&f->busy); // for good, if the program is being told to stop
    sync_files(f, NULL);
    if (f->fd >= 0)
        close(f->fd);
    if (f->temporary)
        remove_whole(f->temporary);
    g_clear_pointer(&f->temporary, g_free);
    g_mutex_unlock(&f->busy);
    interrupt_end(f->interrupt);
    g_mutex_clear(&f->busy);
    g_ptr_array_unref(f->below);
    g_free(f->scratch);
    g_free(f->target);
    g_free(f);
}
