// SPDX-License-Identifier: GPL-3.0-or-later
// gnuplot as a child that can do nothing but draw: no shell, no program, no socket, limited time.
#include "pack/gnuplot.h"

#include "pack/svg.h"

#include <errno.h>
#include <fcntl.h>
#include <gio/gio.h>
#include <glib-unix.h>
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

#define MOST_SECONDS 300 // for one process
#define ENOUGH 12        // charts for each process, so that another one pays

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

// output: where its standard output goes, -1: nowhere; it is closed here.
static bool start(Child *child, const char *const *argv, const char *folder, const char *input,
                  int output, const char *errors, Filter *filter, GError **error) {
    char *in = g_build_filename(folder, input, NULL), *out = g_build_filename(folder, errors, NULL);
    const int from = open(in, O_RDONLY | O_CLOEXEC),
              to = open(out, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600),
              into = output >= 0 ? output : open("/dev/null", O_WRONLY | O_CLOEXEC);
    child->running =
        from >= 0 && to >= 0 && into >= 0 &&
        g_spawn_async_with_fds(folder, (char **)argv, (char **)environment,
                               G_SPAWN_DO_NOT_REAP_CHILD | G_SPAWN_SEARCH_PATH,
                               filter ? fence : NULL, filter, &child->pid, from, into, to, error);
    if (!child->running && error && !*error)
        g_set_error(error, G_IO_ERROR, G_IO_ERROR_FAILED, "%s: %s", folder, g_strerror(errno));
    const int fds[] = {from, to, into};
    for (int i = 0; i < 3; i++)
        if (fds[i] >= 0)
            close(fds[i]);
    g_free(in);
    g_free(out);
    return child->running;
}

// Whom to tell how far the drawing is.
typedef struct {
    GnuplotTick tick;
    void *user;
    const GnuplotDrawing *drawing;
} Watch;

static void look(const Watch *w);

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

// What it says at last, so that a script that it could read only in part is told from a whole one.
#define END_WORD "all drawn"
static const char farewell[] = "set print \"-\"\nprint \"" END_WORD "\"\n";

// What one process draws.
typedef struct {
    Child child;
    GPtrArray *charts;
    gsize work;      // length of what it reads, nearly
    int pictures;    // what it draws comes from here,
    GThread *reader; // read by this thread,
    gint done;       // so many of its charts so far
    bool ended;      // its last word has come
    GError *error;   // of that
} Share;

enum { MOST_PARTS = 4 };

struct GnuplotDrawing {
    char *folder;
    GPtrArray *charts;
    Filter filter;
    guint parts;
    Share share[MOST_PARTS];
};

// as a file: from a pipe gnuplot reads byte by byte
static const char *const scripts[MOST_PARTS] = {"0.plot", "1.plot", "2.plot", "3.plot"},
                         *const errors[MOST_PARTS] = {"0.err", "1.err", "2.err", "3.err"};

static void look(const Watch *w) {
    guint done = 0;
    for (guint p = 0; w && w->tick && p < w->drawing->parts; p++)
        done += (guint)g_atomic_int_get(&w->drawing->share[p].done);
    if (w && w->tick)
        w->tick(w->user, done, w->drawing->charts->len);
}

static bool write_script(const Share *s, const char *folder, const char *name, GError **error) {
    GString *all = g_string_new(NULL);
    chart_stream_begin(all);
    for (guint i = 0; i < s->charts->len; i++)
        chart_stream(all, s->charts->pdata[i]);
    g_string_append(all, farewell);
    const bool good = put(folder, name, "", all->str, all->len, error);
    g_string_free(all, TRUE);
    return good;
}

static bool collect(Chart *c, const char *text, gsize length, GError **error) {
    c->svg = svg_finish(text, length, c->title, c->finding ? c->finding : "", error);
    if (c->svg)
        c->svg_length = strlen(c->svg);
    else
        g_prefix_error(error, "chart %s: ", c->name);
    return c->svg != NULL;
}

// Takes the pictures that have come whole out of the text, of which `known` bytes were looked at
// before; n counts them, the first is thrown away.
static void take(Share *s, GString *text, gsize known, guint *n) {
    static const char last[] = "</svg>\n"; // a line of its own; texts in a picture are escaped
    enum { LAST = sizeof last - 1 };
    gsize used = 0, from = known < LAST ? 0 : known - LAST;
    for (char *end; (end = memmem(text->str + from, text->len - from, last, LAST));) {
        const gsize begin = used;
        used = from = (gsize)(end - text->str) + LAST;
        const guint at = (*n)++;
        if (at == 0 || at > s->charts->len || s->error)
            continue;
        collect(s->charts->pdata[at - 1], text->str + begin, used - begin, &s->error);
        g_atomic_int_inc(&s->done);
    }
    if (used > 0)
        g_string_erase(text, 0, (gssize)used);
}

static gpointer read_pictures(gpointer data) {
    Share *s = data;
    GString *text = g_string_new(NULL);
    enum { PIECE = 1 << 16 };
    guint n = 0;
    for (ssize_t got = 1; got != 0;) {
        const gsize before = text->len;
        g_string_set_size(text, before + PIECE);
        do
            got = read(s->pictures, text->str + before, PIECE);
        while (got < 0 && errno == EINTR);
        got = MAX(got, 0);
        g_string_set_size(text, before + (gsize)got);
        take(s, text, before, &n);
    }
    s->ended = strcmp(g_strstrip(text->str), END_WORD) == 0;
    g_string_free(text, TRUE);
    return NULL;
}

static bool start_share(GnuplotDrawing *d, guint p, GError **error) {
    Share *s = &d->share[p];
    const char *const argv[] = {"gnuplot", "-d", scripts[p], NULL};
    int ends[2];
    if (!write_script(s, d->folder, scripts[p], error) ||
        !g_unix_open_pipe(ends, FD_CLOEXEC, error))
        return false;
    s->pictures = ends[0];
    if (!start(&s->child, argv, d->folder, scripts[p], ends[1], errors[p], &d->filter, error)) {
        close(ends[0]);
        return false;
    }
    s->reader = g_thread_new("pictures", read_pictures, s);
    return true;
}

static guint parts_of(guint charts) {
    const guint most = CLAMP(g_get_num_processors(), 1, MOST_PARTS);
    return charts == 0 ? 0 : CLAMP(charts / ENOUGH, 1, most);
}

// Each chart goes to the process that has least to do so far.
static void deal(GnuplotDrawing *d) {
    enum { COMMON = 2000 }; // of each script
    for (guint p = 0; p < d->parts; p++)
        d->share[p].charts = g_ptr_array_new();
    for (guint i = 0; i < d->charts->len; i++) {
        Chart *c = d->charts->pdata[i];
        Share *least = d->share;
        for (guint p = 1; p < d->parts; p++)
            least = d->share[p].work < least->work ? &d->share[p] : least;
        g_ptr_array_add(least->charts, c);
        least->work += COMMON + c->head->len + c->data->len;
    }
}

GnuplotDrawing *gnuplot_begin(GPtrArray *charts, const char *folder, GError **error) {
    GnuplotDrawing *d = g_new0(GnuplotDrawing, 1);
    d->folder = g_strdup(folder);
    d->charts = g_ptr_array_ref(charts);
    d->parts = parts_of(charts->len);
    deal(d);
    bool good = d->parts == 0 || filter_build(&d->filter, error);
    for (guint p = 0; good && p < MIN(d->parts, MOST_PARTS); p++)
        good = start_share(d, p, error);
    if (good)
        return d;
    gnuplot_end(d, NULL, NULL, NULL);
    return NULL;
}

static bool end_share(GnuplotDrawing *d, guint p, const Watch *watch, GError **error) {
    Share *s = &d->share[p];
    if (!s->child.running)
        return false;
    const int status = finish(&s->child, watch);
    g_thread_join(s->reader);
    close(s->pictures);
    if (status != 0)
        return say_failed(error, "gnuplot", d->folder, errors[p]);
    const bool good = !s->error && s->ended;
    if (s->error)
        g_propagate_error(error, g_steal_pointer(&s->error));
    else if (!s->ended)
        g_set_error(error, GNUPLOT_ERROR, GNUPLOT_ERROR_FAILED,
                    "gnuplot did not come to the end of its script");
    return good;
}

static bool all_drawn(const GPtrArray *charts, GError **error) {
    for (guint i = 0; i < charts->len; i++) {
        const Chart *c = charts->pdata[i];
        if (!c->svg) {
            g_set_error(error, GNUPLOT_ERROR, GNUPLOT_ERROR_FAILED,
                        "chart %s: gnuplot did not draw it whole", c->name);
            return false;
        }
    }
    return true;
}

bool gnuplot_end(GnuplotDrawing *d, GnuplotTick tick, void *user, GError **error) {
    const Watch watch = {tick, user, d};
    bool good = true;
    for (guint p = 0; p < MIN(d->parts, MOST_PARTS); p++) {
        good = end_share(d, p, &watch, good ? error : NULL) && good;
        g_clear_error(&d->share[p].error);
        g_ptr_array_unref(d->share[p].charts);
    }
    good = good && all_drawn(d->charts, error);
    g_free(d->filter.program.filter);
    g_ptr_array_unref(d->charts);
    g_free(d->folder);
    g_free(d);
    return good;
}

bool gnuplot_draw(GPtrArray *charts, const char *folder, GError **error) {
    GnuplotDrawing *d = gnuplot_begin(charts, folder, error);
    return d && gnuplot_end(d, NULL, NULL, error);
}

char *gnuplot_convert(const Chart *c, bool pdf, const char *folder, gsize *length, GError **error) {
    char *in = g_strconcat(c->name, ".svg", NULL), *said = g_strconcat(c->name, ".err", NULL),
         *out = g_strconcat(c->name, pdf ? ".pdf" : ".png", NULL),
         *path = g_build_filename(folder, out, NULL), *text = NULL;
    const char *const convert[] = {"rsvg-convert",
                                   "--format",
                                   pdf ? "pdf" : "png",
                                   "--zoom",
                                   pdf ? "1" : "2",
                                   "--output",
                                   out,
                                   NULL};
    Child child = {0};
    bool good = put(folder, c->name, ".svg", c->svg, c->svg_length, error) &&
                start(&child, convert, folder, in, -1, said, NULL, error);
    if (good && finish(&child, NULL) != 0)
        good = say_failed(error, "rsvg-convert", folder, said);
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
    g_free(out);
    g_free(said);
    g_free(in);
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
