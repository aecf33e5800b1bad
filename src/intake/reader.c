// SPDX-License-Identifier: GPL-3.0-or-later
// The reader: bytes -> shape -> pieces, which threads read at the same time -> one store, in the
// order of the log.
//
// Pieces are cut where a record seems to end. Whether it does is known once the piece before has
// been read; if not, that piece reads on into the next one's text. So the result is that of
// one thread, whatever the log holds.
#include "intake/reader.h"

#include "base/clip.h"
#include "intake/bytes.h"
#include "intake/dateforms.h"
#include "intake/habits.h"
#include "intake/layout.h"
#include "intake/shape.h"
#include "intake/tasks.h"

#include <string.h>

G_DEFINE_QUARK(crossward - reader, reader_error)

enum { CHUNK = 256 << 10 };

typedef struct {
    Input *input;
    uint16_t file;
    const Network *network;
    Transfers *t;
    Findings *findings;
    size_t chunk;
    const ReaderOptions *options;
    LogSettings *settings;
    Bytes *bytes;
    GString *text; // read and not yet given to a piece
    size_t used;   // bytes of it that were given
    Shape *shape;
    Layout *layout;
    GuardColumn *guard; // of each column, of the pieces taken in
    RowTimes times;     // of those
    bool serials;       // a time or date was a serial, in those
    bool undecided;     // a date was not read before the whole log was looked at, in those
    bool whole;         // the whole log is looked at for the forms of its dates
    DateForms forms;    // what that showed
    uint32_t lines;     // of the log, before the oldest piece
    Piece *open;        // ended inside a record, so it goes on with the next piece's text
    Tasks *tasks;
} Reader;

static bool refuse(const Reader *r, uint32_t line, const char *why, GError **error) {
    g_set_error(error, READER_ERROR, READER_ERROR_REFUSED, "%s:%u: %s", r->input->name, line, why);
    return false;
}

// Takes what a whole piece read into the store.
static bool absorb(Reader *r, Piece *piece, GError **error) {
    uint32_t line;
    const char *fault = piece_fault(piece, &line);
    bool good = fault ? refuse(r, r->lines + line, fault, error) : true;
    if (good && !transfers_absorb(r->t, piece_transfers(piece), r->file, r->lines)) {
        g_set_error(error, READER_ERROR, READER_ERROR_INPUT,
                    "%s:%u: out of memory after %zu transfers", r->input->name, r->lines, r->t->n);
        good = false;
    }
    if (good && (r->t->units_full || piece_transfers(piece)->units_full)) {
        g_set_error(error, READER_ERROR, READER_ERROR_REFUSED,
                    "%s: more than %d different unit codes; is the right column read as unit?",
                    r->input->name, UINT16_MAX);
        good = false;
    }
    finding_absorb(r->findings, piece_findings(piece), r->file, r->lines);
    for (unsigned c = 0; c < r->layout->n_columns; c++)
        guard_merge(&r->guard[c], &piece_guard(piece)[c], r->lines);
    r->times.dated_before += piece_times(piece).dated_before;
    r->times.next_day += piece_times(piece).next_day;
    r->serials = r->serials || piece_serials(piece);
    r->undecided = r->undecided || piece_undecided(piece);
    r->input->rows += piece_rows(piece);
    r->lines += piece_lines(piece);
    return good;
}

// Takes in a task that is done, unless it ended inside a record.
static bool finish(Reader *r, Task *task, GError **error) {
    if (r->open) { // what this piece took for a record's start was none
        piece_free(task->piece);
        task->piece = g_steal_pointer(&r->open);
        tasks_feed(task, task->piece);
    }
    uint32_t line;
    if (piece_inside(task->piece) && !piece_fault(task->piece, &line)) {
        r->open = g_steal_pointer(&task->piece);
        return true;
    }
    if (!absorb(r, task->piece, error))
        return false;
    piece_clear(task->piece);
    return true;
}

// Gives the text's next n bytes to a task. What is left is less, mostly: then that is copied, and
// the text itself is given.
static void hand_over(Reader *r, Task *task, size_t n) {
    const char *text = r->text->str + r->used;
    const size_t left = r->text->len - r->used - n;
    g_string_truncate(task->text, 0);
    task->from = 0;
    task->length = n;
    if (left > n) {
        g_string_append_len(task->text, text, (gssize)n);
        r->used += n;
        return;
    }
    g_string_append_len(task->text, text + n, (gssize)left);
    GString *given = r->text;
    r->text = task->text;
    task->text = given;
    task->from = r->used;
    r->used = 0;
}

// Makes a piece of the text's next n bytes and lets a thread read it.
static bool start(Reader *r, size_t n, GError **error) {
    Task *task = tasks_idle(r->tasks);
    if (!task->piece)
        task->piece = piece_new(r->layout, r->shape->delimiter);
    hand_over(r, task, n);
    return !tasks_begin(r->tasks, task) || finish(r, tasks_oldest(r->tasks), error);
}

// How many bytes the next piece takes; 0 if more must be read first. Where no record seems to end
// for long, quotes are broken: then any line will do.
static size_t next_cut(const Reader *r, const char *text, size_t length) {
    const bool ended = bytes_ended(r->bytes);
    for (size_t window = r->chunk;; window *= 2) {
        const size_t n = MIN(window, length);
        const size_t cut = ended && n == length ? n : piece_whole_records(text, n, length);
        if (cut > 0)
            return cut;
        if (n == length)
            break;
    }
    if (length > PIECE_LONGEST_RECORD)
        return length; // no record is so long, which the piece will say
    return length > 16 * r->chunk ? piece_whole_lines(text, length) : 0;
}

static void tick(const Reader *r) {
    const uint64_t got = bytes_so_far(r->bytes), waiting = r->text->len - r->used;
    if (r->options->tick)
        r->options->tick(r->options->tick_user, got > waiting ? got - waiting : 0, r->input->rows);
}

// Cuts pieces off the text that was read, and starts them.
static bool start_pieces(Reader *r, GError **error) {
    bool good = true;
    while (good && r->used < r->text->len) {
        const char *text = r->text->str + r->used;
        const size_t length = r->text->len - r->used;
        if (length < r->chunk && !bytes_ended(r->bytes))
            break;
        const size_t cut = next_cut(r, text, length);
        if (cut == 0)
            break;
        good = start(r, cut, error);
        tick(r);
    }
    g_string_erase(r->text, 0, (gssize)r->used);
    r->used = 0;
    return good;
}

// Refuses a log that says who a patient is, by its headings (guard NULL) or its cells.
static bool any_identifier(const Reader *r, const GuardColumn *guard, GError **error) {
    uint32_t line = r->shape->heading_row;
    char *why = layout_identifier(r->layout, guard, &line);
    if (why)
        refuse(r, line, why, error);
    g_free(why);
    return why != NULL;
}

static bool read_records(Reader *r, GError **error) {
    bool good = start_pieces(r, error);
    while (good && !bytes_ended(r->bytes))
        good = bytes_read(r->bytes, r->text, r->chunk, error) && start_pieces(r, error);
    for (Task *task; good && (task = tasks_oldest(r->tasks));)
        good = finish(r, task, error);
    if (good && r->open) {
        piece_finish(r->open);
        good = absorb(r, r->open, error);
    }
    return good && !any_identifier(r, r->guard, error);
}

// Says something of the log as a whole: how it was read where network.ini does not say how.
static void note(Reader *r, uint32_t line, const char *code, const char *message) {
    const Finding f = {r->file, line, 0, FIELD_COUNT, SEVERITY_NOTE, code, NULL, message};
    finding_add(r->findings, &f, NULL, 0);
}

static void note_shape(Reader *r) {
    const Shape *s = r->shape;
    if (!r->settings->delimiter && s->delimiter != ',')
        note(r, s->heading_row, "delimiter",
             s->delimiter == ';' ? "cells are parted by semicolons, as the heading shows"
                                 : "cells are parted by tabs, as the heading shows");
    if (!r->settings->header_row && s->notes > 0)
        note(r, s->heading_row, "heading-row",
             "the heading stands here; the rows above it are notes, not records");
    if (!r->settings->decimal && r->layout->style.decimal == ',')
        note(r, s->heading_row, "decimal", "decimals have a comma, as the numbers show");
    if (!r->settings->date_order && r->forms.dates > 0)
        note(r, s->heading_row, "date-order-found",
             dateforms_order_text(&r->forms, r->layout->style.stamp.order, r->findings));
}

static void note_serials(Reader *r) {
    if (!r->serials || r->settings->serial_base)
        return;
    note(r, r->shape->heading_row, "serial-base",
         r->forms.from_1904 > 0   ? "dates are a spreadsheet's day numbers; counted from 1904, as "
                                    "other dates of their rows show"
         : r->forms.from_1900 > 0 ? "dates are a spreadsheet's day numbers; counted from 1900, as "
                                    "other dates of their rows show"
                                  : "dates are a spreadsheet's day numbers; counted from 1900, as "
                                    "network.ini does not say");
}

static void note_encoding(Reader *r) {
    const char *encoding = bytes_encoding(r->bytes);
    if (r->settings->encoding || !strcmp(encoding, "UTF-8"))
        return;
    note(r, 1, "encoding",
         g_str_has_prefix(encoding, "UTF-16")
             ? "read as UTF-16, as its first bytes show"
             : "read as Windows-1252, since it is not UTF-8 and nothing in it is");
}

static bool find_decimal(Reader *r, uint32_t *line, GError **why) {
    if (r->settings->decimal)
        return true;
    bool *is_number = g_new0(bool, r->layout->n_columns + 1);
    for (unsigned c = 0; c < r->layout->n_columns; c++)
        for (unsigned i = 0; i < r->layout->columns[c].n_targets; i++)
            is_number[c] = is_number[c] || layout_is_number(&r->layout->columns[c].targets[i]);
    const char sign = shape_decimal(r->shape, r->text->str, r->text->len, is_number, line, why);
    g_free(is_number);
    r->layout->style.decimal = (char)(sign ? sign : '.');
    return sign != 0;
}

// Finds how dates are written. A log whose first dates show no form that must be found is read on
// as it is; where one comes later it is read again, then `whole`, since any date may contradict.
static bool find_date_forms(Reader *r, uint32_t *line, GError **why) {
    const unsigned n = r->layout->n_columns;
    const LogSettings *set = r->settings;
    if (set->date_order && set->serial_base && set->century_pivot >= 0)
        return true;
    bool *is_date = g_new0(bool, n + 1);
    for (unsigned c = 0; c < n; c++)
        for (unsigned i = 0; i < r->layout->columns[c].n_targets; i++)
            is_date[c] = is_date[c] || layout_is_date(&r->layout->columns[c].targets[i]);
    bool good = true;
    for (bool look = true; good && look;) {
        while (good && r->whole && !bytes_ended(r->bytes))
            good = bytes_read(r->bytes, r->text, r->chunk, why);
        r->forms = dateforms_look(r->text->str + r->used, r->text->len - r->used,
                                  r->shape->delimiter, is_date, n, r->lines + 1);
        look = !r->whole && dateforms_open(&r->forms, set);
        r->whole = r->whole || look;
    }
    CellStyle *style = &r->layout->style;
    good = good && dateforms_choose(&r->forms, r->settings, &style->stamp, line, why);
    style->date_serials = style->date_serials || r->forms.serials > 0;
    g_free(is_date);
    return good;
}

// What a second look at the log's rows needs to know.
static void remember_shape(Reader *r) {
    r->input->delimiter = r->shape->delimiter;
    r->input->n_columns = r->layout->n_columns;
    g_free(r->input->masks);
    r->input->masks = layout_masks(r->layout);
    if (r->input->words)
        g_hash_table_unref(r->input->words);
    r->input->words = g_hash_table_ref(r->layout->words);
}

// Refuses a heading of which no word is known, and says what to do.
static bool heading_known(const Reader *r, GError **why) {
    for (guint c = 0; c < r->shape->heads->len; c++)
        if (layout_knows(r->shape->heads->pdata[c], r->settings))
            return true;
    if (r->settings->mapping)
        g_set_error(why, READER_ERROR, READER_ERROR_REFUSED,
                    "the heading seems to stand here, and the mapping names none of its %u "
                    "columns; correct the mapping, or say where the heading stands (header_row)",
                    r->shape->heads->len);
    else
        g_set_error(why, READER_ERROR, READER_ERROR_REFUSED,
                    "the heading seems to stand here, and none of its %u columns is called as a "
                    "field is\ndraft a mapping with `crossward map LOG --out mapping.csv`, then "
                    "name it in network.ini",
                    r->shape->heads->len);
    return false;
}

static bool find_shape(Reader *r, uint32_t *line, GError **why) {
    r->shape = shape_find(r->text->str, r->text->len, bytes_ended(r->bytes), r->settings,
                          layout_knows, r->settings, line, why);
    if (!r->shape)
        return false;
    r->used = r->shape->bytes;
    r->lines = r->shape->lines;
    *line = r->shape->heading_row;
    if (!heading_known(r, why))
        return false;
    r->layout = layout_new((char **)r->shape->heads->pdata, r->shape->heads->len, r->settings,
                           r->network, why);
    return r->layout && find_decimal(r, line, why) && find_date_forms(r, line, why);
}

// Says which columns of the mapping the log has not.
static void note_absent(Reader *r) {
    for (guint i = 0; i < r->layout->absent->len; i++) {
        char *head = clip_text(r->layout->absent->pdata[i], LAYOUT_HEAD_SHOWN);
        char *message =
            g_strdup_printf("the mapping names a column '%s' that this log has not", head);
        note(r, r->shape->heading_row, "mapping-column-absent", g_intern_string(message));
        g_free(message);
        g_free(head);
    }
}

// Reads how the log begins, and from that its shape and layout.
static bool read_heading(Reader *r, GError **error) {
    while (!bytes_ended(r->bytes) && r->text->len < SHAPE_BYTES)
        if (!bytes_read(r->bytes, r->text, SHAPE_BYTES, error))
            return false;
    uint32_t line = 1;
    GError *why = NULL;
    if (!find_shape(r, &line, &why)) {
        refuse(r, line, why->message, error);
        g_error_free(why);
        return false;
    }
    r->guard = g_new0(GuardColumn, r->layout->n_columns + 1);
    remember_shape(r);
    note_shape(r);
    note_absent(r);
    return !any_identifier(r, NULL, error);
}

// Ends threads and frees what is left of a reading that may have stopped half way.
static void end_reading(Reader *r) {
    tasks_free(r->tasks);
    piece_free(r->open);
    g_free(r->guard);
    layout_free(r->layout);
    shape_free(r->shape);
    bytes_free(r->bytes);
    if (r->text)
        g_string_free(r->text, TRUE);
}

// What the store and the findings held before the log, so that it can be taken out of them.
typedef struct {
    size_t n;
    guint n_units, n_findings, n_aside;
} Before;

static void take_out(Reader *r, const Before *before) {
    transfers_truncate(r->t, before->n, before->n_units);
    g_array_set_size(r->findings->findings, before->n_findings);
    g_array_set_size(r->findings->put_aside, before->n_aside);
    r->input->rows = 0;
}

static void say_of_whole(Reader *r, size_t from, unsigned threads) {
    inputs_say_name(r->input, r->file, r->findings);
    note_encoding(r);
    note_serials(r);
    habits_say(r->t, from, r->layout, &r->times, r->file, r->shape->heading_row, (int)threads,
               r->findings);
}

// Reads the log from its first byte.
static bool read_log(Reader *r, unsigned threads, size_t from, GError **error) {
    r->bytes = bytes_open(r->input, r->settings->encoding, error);
    if (!r->bytes)
        return false;
    r->text = g_string_new(NULL);
    r->tasks = tasks_new(threads);
    bool good = read_heading(r, error) && read_records(r, error);
    if (good && r->undecided && !r->whole)
        return true;
    if (good)
        say_of_whole(r, from, threads);
    const bool finished = bytes_finish(r->bytes, good ? error : NULL);
    g_free(r->input->encoding);
    r->input->encoding = g_strdup(bytes_encoding(r->bytes));
    return good && finished;
}

// The same once more, now that the forms of its dates must be found in the whole log.
static void begin_again(Reader *r, const Before *before) {
    end_reading(r);
    take_out(r, before);
    Reader again = {.input = r->input,
                    .file = r->file,
                    .network = r->network,
                    .t = r->t,
                    .findings = r->findings,
                    .chunk = r->chunk,
                    .options = r->options,
                    .settings = r->settings,
                    .whole = true};
    *r = again;
}

bool reader_read(Input *input, uint16_t file, const Network *network, const ReaderOptions *options,
                 Transfers *t, Findings *findings, GError **error) {
    Reader r = {.input = input,
                .file = file,
                .network = network,
                .t = t,
                .findings = findings,
                .chunk = options->chunk ? options->chunk : CHUNK,
                .options = options};
    const Before before = {t->n, t->units->len, findings->findings->len, findings->put_aside->len};
    const unsigned threads = options->threads ? options->threads : g_get_num_processors();
    r.settings = logsettings_find(network, inputs_own_name(input), error);
    bool good = r.settings != NULL;
    if (good) {
        input->keeper = g_strdup(r.settings->recorded_by);
        input->received = r.settings->received;
        good = read_log(&r, threads, before.n, error);
    }
    if (good && r.undecided && !r.whole) {
        begin_again(&r, &before);
        good = read_log(&r, threads, before.n, error);
    }
    end_reading(&r);
    logsettings_free(r.settings);
    if (!good)
        take_out(&r, &before);
    return good;
}
