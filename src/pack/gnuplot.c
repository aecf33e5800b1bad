// SPDX-License-Identifier: GPL-3.0-or-later
// gnuplot as a child that can do nothing but draw: no shell, no program, no socket, limited time.
#include "pack/gnuplot.h"

#include "pack/svg.h"

#include <errno.h>
#include <fcntl.h>
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <poll.h>
#include <sched.h>
#include <seccomp.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#define MOST_SECONDS 300  // for one process
#define ENOUGH_FOR_TWO 24 // charts from which a second process pays

G_DEFINE_QUARK(crossward - gnuplot, gnuplot_error)

static const char *const environment[] = {"PATH=/usr/local/bin:/usr/bin:/bin", "LC_ALL=C.UTF-8",
                                          "SOURCE_DATE_EPOCH=0", NULL};

static bool need(const char *program, const char *package, GError **error) {
    char *path = g_find_program_in_path(program);
    const bool there = path != NULL;
    g_free(path);
    if (!there)
        g_set_error(error, GNUPLOT_ERROR, GNUPLOT_ERROR_MISSING,
                    "%s is missing: install it (Debian: apt-get install %s)%s", program, package,
                    strcmp(program, "gnuplot") == 0 ? ", or leave charts out with --no-charts"
                                                    : ", or leave png and pdf out");
    return there;
}

bool gnuplot_find(const GnuplotFormats *formats, GError **error) {
    return need("gnuplot", "gnuplot-nox", error) &&
           ((!formats->png && !formats->pdf) || need("rsvg-convert", "librsvg2-bin", error));
}

// ---- the filter ----

typedef struct {
    struct sock_fprog program;
} Filter;

static bool add_rules(scmp_filter_ctx ctx) {
    const uint32_t no = SCMP_ACT_ERRNO(EPERM);
    static const int refused[] = {SCMP_SYS(fork),   SCMP_SYS(vfork),    SCMP_SYS(socket),
                                  SCMP_SYS(ptrace), SCMP_SYS(execveat), SCMP_SYS(connect),
                                  SCMP_SYS(bind)};
    bool good = true;
    for (unsigned i = 0; i < G_N_ELEMENTS(refused); i++)
        good = good && seccomp_rule_add(ctx, no, refused[i], 0) == 0;
    return good && seccomp_rule_add(ctx, SCMP_ACT_ERRNO(ENOSYS), SCMP_SYS(clone3), 0) == 0 &&
           seccomp_rule_add(ctx, no, SCMP_SYS(clone), 1,
                            SCMP_A0(SCMP_CMP_MASKED_EQ, CLONE_THREAD, 0)) == 0;
}

// Builds the filter before the fork, so that the child only loads it.
static bool filter_build(Filter *f, GError **error) {
    scmp_filter_ctx ctx = seccomp_init(SCMP_ACT_ALLOW);
    const int fd = memfd_create("filter", MFD_CLOEXEC);
    struct stat about;
    f->program.filter = NULL;
    if (ctx && fd >= 0 && add_rules(ctx) && seccomp_export_bpf(ctx, fd) == 0 &&
        fstat(fd, &about) == 0 && about.st_size > 0) {
        f->program.filter = g_malloc((gsize)about.st_size);
        f->program.len = (unsigned short)((gsize)about.st_size / sizeof(struct sock_filter));
        if (pread(fd, f->program.filter, (gsize)about.st_size, 0) != about.st_size)
            g_clear_pointer(&f->program.filter, g_free);
    }
    if (fd >= 0)
        close(fd);
    seccomp_release(ctx);
    if (!f->program.filter)
        g_set_error(error, GNUPLOT_ERROR, GNUPLOT_ERROR_FAILED,
                    "the filter that fences gnuplot in can't be built");
    return f->program.filter != NULL;
}

// In the child, after fork and before exec: async-signal-safe calls only.
static void fence(gpointer data) {
    Filter *f = data;
    const struct rlimit time = {MOST_SECONDS, MOST_SECONDS};
    setrlimit(RLIMIT_CPU, &time);
    if (prctl(PR_SET_PDEATHSIG, SIGKILL) != 0 || prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0 ||
        prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &f->program) != 0)
        _exit(126);
}

// ---- running a child ----

typedef struct {
    GPid pid;
    bool running;
} Child;

static bool start(Child *child, const char *const *argv, const char *folder, const char *input,
                  const char *errors, Filter *filter, GError **error) {
    char *in = g_build_filename(folder, input, NULL), *out = g_build_filename(folder, errors, NULL);
    const int from = open(in, O_RDONLY | O_CLOEXEC),
              to = open(out, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600),
              nothing = open("/dev/null", O_WRONLY | O_CLOEXEC);
    child->running = from >= 0 && to >= 0 && nothing >= 0 &&
                     g_spawn_async_with_fds(folder, (char **)argv, (char **)environment,
                                            G_SPAWN_DO_NOT_REAP_CHILD | G_SPAWN_SEARCH_PATH,
                                            filter ? fence : NULL, filter, &child->pid, from,
                                            nothing, to, error);
    if (!child->running && error && !*error)
        g_set_error(error, G_IO_ERROR, G_IO_ERROR_FAILED, "%s: %s", folder, g_strerror(errno));
    const int fds[] = {from, to, nothing};
    for (int i = 0; i < 3; i++)
        if (fds[i] >= 0)
            close(fds[i]);
    g_free(in);
    g_free(out);
    return child->running;
}

// Whom to tell how far the drawing is, and how to find out: charts leave files in the folder.
typedef struct {
    GnuplotTick tick;
    void *user;
    const GPtrArray *charts;
    const char *folder;
} Watch;

static void look(const Watch *w) {
    GDir *dir = w && w->tick ? g_dir_open(w->folder, 0, NULL) : NULL;
    guint done = 0;
    for (const char *name; dir && (name = g_dir_read_name(dir));)
        done += g_str_has_suffix(name, ".svg") ? 1 : 0;
    if (dir) {
        g_dir_close(dir);
        w->tick(w->user, MIN(done, w->charts->len), w->charts->len);
    }
}

// Waits until a child ends or its time is over; whether it ended.
static bool wait_until(int fd, const Watch *w) {
    struct pollfd wait_for = {.fd = fd, .events = POLLIN};
    const gint64 end = g_get_monotonic_time() + (gint64)MOST_SECONDS * G_USEC_PER_SEC;
    while (fd >= 0 && g_get_monotonic_time() < end) {
        if (poll(&wait_for, 1, 250) > 0)
            return true;
        look(w);
    }
    return fd < 0;
}

// Waits for a child, kills it when its time is over. Its wait status; -1 for one that was killed.
static int finish(Child *child, const Watch *w) {
    int status = -1;
    const int fd = (int)syscall(SYS_pidfd_open, child->pid, 0);
    const bool ended = wait_until(fd, w);
    if (!ended)
        kill(child->pid, SIGKILL);
    while (waitpid(child->pid, &status, 0) < 0 && errno == EINTR)
        ;
    if (fd >= 0)
        close(fd);
    child->running = false;
    return ended ? status : -1;
}

static bool say_failed(GError **error, const char *program, const char *folder,
                       const char *errors) {
    char *path = g_build_filename(folder, errors, NULL), *text = NULL;
    if (!g_file_get_contents(path, &text, NULL, NULL) || !*g_strstrip(text)) {
        g_free(text);
        text = g_strdup("it said nothing, or took too long");
    }
    char *valid = g_utf8_make_valid(text, 2000 < strlen(text) ? 2000 : -1);
    g_set_error(error, GNUPLOT_ERROR, GNUPLOT_ERROR_FAILED, "%s failed: %s", program, valid);
    g_free(valid);
    g_free(text);
    g_free(path);
    return false;
}

// Whether gnuplot said that it could not read a chart's data: it then draws on without them.
static bool missed_data(const char *folder, const char *errors) {
    char *path = g_build_filename(folder, errors, NULL), *text = NULL;
    const bool missed =
        !g_file_get_contents(path, &text, NULL, NULL) || strstr(text, "Cannot find or open file");
    g_free(text);
    g_free(path);
    return missed;
}

static bool put(const char *folder, const char *name, const char *ending, const char *text,
                gsize length, GError **error) {
    char *file = g_strconcat(name, ending, NULL), *path = g_build_filename(folder, file, NULL);
    g_unlink(path); // G_FILE_SET_CONTENTS_NONE does not cut a longer one short
    const bool good =
        g_file_set_contents_full(path, text, (gssize)length, G_FILE_SET_CONTENTS_NONE, 0600, error);
    g_free(path);
    g_free(file);
    return good;
}

// ---- drawing ----

// The first plot of a process differs from later ones in an attribute: it is thrown away.
static const char warm_up[] = "set terminal svg\nset output \"warm-up.svg\"\nplot [0:1] x\n";

// Every parts-th chart from the first-th on as one script.
static bool write_script(GPtrArray *charts, guint first, guint parts, const char *folder,
                         GError **error) {
    GString *all = g_string_new(warm_up);
    bool good = true;
    for (guint i = first; good && i < charts->len; i += parts) {
        const Chart *c = charts->pdata[i];
        char *text = chart_script(c);
        g_string_append(all, text);
        g_free(text);
        good = put(folder, c->name, ".dat", c->data->str, c->data->len, error);
    }
    const char name[] = {(char)('0' + first), 0};
    good = good && put(folder, name, ".plot", all->str, all->len, error);
    g_string_free(all, TRUE);
    return good;
}

static bool collect(Chart *c, const char *folder, GError **error) {
    char *file = g_strconcat(c->name, ".svg", NULL), *path = g_build_filename(folder, file, NULL);
    char *text = NULL;
    gsize length = 0;
    if (g_file_get_contents(path, &text, &length, error))
        c->svg = svg_finish(text, length, c->title, c->finding ? c->finding : "", error);
    if (c->svg)
        c->svg_length = strlen(c->svg);
    else
        g_prefix_error(error, "chart %s: ", c->name);
    g_unlink(path);
    g_free(text);
    g_free(path);
    g_free(file);
    return c->svg != NULL;
}

bool gnuplot_draw(GPtrArray *charts, const char *folder, GError **error) {
    return gnuplot_draw_watched(charts, folder, NULL, NULL, error);
}

bool gnuplot_draw_watched(GPtrArray *charts, const char *folder, GnuplotTick tick, void *user,
                          GError **error) {
    const Watch watch = {tick, user, charts, folder};
    // as a file: from a pipe gnuplot reads byte by byte
    static const char *const argv[2][4] = {{"gnuplot", "-d", "0.plot", NULL},
                                           {"gnuplot", "-d", "1.plot", NULL}};
    static const char *const scripts[] = {"0.plot", "1.plot"}, *const errors[] = {"0.err", "1.err"};
    const guint parts = charts->len >= ENOUGH_FOR_TWO ? 2 : 1;
    Child child[2] = {{0}};
    Filter filter;
    if (charts->len == 0)
        return true;
    if (!filter_build(&filter, error))
        return false;
    bool good = true;
    for (guint p = 0; good && p < parts; p++)
        good = write_script(charts, p, parts, folder, error) &&
               start(&child[p], argv[p], folder, scripts[p], errors[p], &filter, error);
    for (guint p = 0; p < parts; p++)
        if (child[p].running) {
            const int status = finish(&child[p], &watch);
            if (good && (status != 0 || missed_data(folder, errors[p])))
                good = say_failed(error, "gnuplot", folder, errors[p]);
        }
    g_free(filter.program.filter);
    for (guint i = 0; good && i < charts->len; i++)
        good = collect(charts->pdata[i], folder, error);
    return good;
}

char *gnuplot_convert(const Chart *c, bool pdf, const char *folder, gsize *length, GError **error) {
    static const char *const png_argv[] = {"rsvg-convert", "--format", "png", "--zoom", "2",
                                           "--output",     "out",      NULL};
    static const char *const pdf_argv[] = {"rsvg-convert", "--format", "pdf",
                                           "--output",     "out",      NULL};
    Child child = {0};
    char *text = NULL, *path = g_build_filename(folder, "out", NULL);
    bool good =
        put(folder, "in", ".svg", c->svg, c->svg_length, error) &&
        start(&child, pdf ? pdf_argv : png_argv, folder, "in.svg", "convert.err", NULL, error);
    if (good && finish(&child, NULL) != 0)
        good = say_failed(error, "rsvg-convert", folder, "convert.err");
    if (good && g_file_get_contents(path, &text, length, error)) {
        const gsize from = *length > 32 ? *length - 32 : 0;
        if (!g_strstr_len(text, 8, pdf ? "%PDF" : "PNG") ||
            !memmem(text + from, *length - from, pdf ? "%%EOF" : "IEND", pdf ? 5 : 4)) {
            g_set_error(error, G_IO_ERROR, G_IO_ERROR_NO_SPACE,
                        "rsvg-convert wrote a chart only in part: is the disk full?");
            g_clear_pointer(&text, g_free);
        }
    }
    g_unlink(path);
    g_free(path);
    return text;
}

bool gnuplot_formats(const char *text, GnuplotFormats *formats, GError **error) {
    char **words = g_strsplit(text ? text : "svg", ",", -1);
    bool good = true;
    for (char **w = words; good && *w; w++) {
        g_strstrip(*w);
        formats->png = formats->png || !strcmp(*w, "png");
        formats->pdf = formats->pdf || !strcmp(*w, "pdf");
        good = !strcmp(*w, "svg") || !strcmp(*w, "png") || !strcmp(*w, "pdf");
        if (!good)
            g_set_error(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE,
                        "--chart-formats: no format '%s'; there are svg, png and pdf", *w);
    }
    g_strfreev(words);
    return good;
}
