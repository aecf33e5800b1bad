// SPDX-License-Identifier: GPL-3.0-or-later
// libcsv fed line by line, so that each record knows the physical line it starts on.
#include "intake/piece.h"

#include <csv.h>
#include <string.h>

struct Piece {
    struct csv_parser csv;
    char delimiter;
    Row row;
    Transfers *t;
    Findings *findings;
    GString *carried;  // bytes of an unfinished record from earlier texts
    const char *start; // of the record in this text
    const char *end;   // of the line being fed
    uint32_t lines;    // read
    const char *fault; // why reading stopped
    uint32_t fault_line;
};

static void start_csv(Piece *p) {
    if (csv_init(&p->csv, CSV_STRICT | CSV_STRICT_FINI) != 0)
        g_error("out of memory");
    csv_set_blk_size(&p->csv, 4096);
    csv_set_delim(&p->csv, (unsigned char)p->delimiter);
}

Piece *piece_new(const Layout *layout, char delimiter) {
    Piece *p = g_new0(Piece, 1);
    p->delimiter = delimiter;
    p->t = transfers_new();
    p->findings = finding_list_new();
    p->carried = g_string_new(NULL);
    row_init(&p->row, layout, delimiter, p->t, p->findings);
    start_csv(p);
    return p;
}

void piece_free(Piece *p) {
    if (!p)
        return;
    csv_free(&p->csv);
    row_clear(&p->row);
    transfers_free(p->t);
    finding_list_free(p->findings);
    g_string_free(p->carried, TRUE);
    g_free(p);
}

void piece_clear(Piece *p) {
    transfers_empty(p->t);
    row_restart(&p->row);
    p->lines = 0;
}

static bool stop(Piece *p, uint32_t line, const char *why) {
    if (!p->fault) {
        p->fault = why;
        p->fault_line = line;
    }
    return false;
}

// The record's bytes so far; those of this text stay where they are unless earlier ones go before.
static const char *record_text(Piece *p, size_t *length) {
    if (p->carried->len > 0) {
        g_string_append_len(p->carried, p->start, p->end - p->start);
        p->start = p->end;
        *length = p->carried->len;
        return p->carried->str;
    }
    *length = (size_t)(p->end - p->start);
    return p->start;
}

static void on_cell(void *text, size_t length, void *data) {
    row_cell(&((Piece *)data)->row, text, length);
}

static void on_record(int end, void *data) {
    (void)end;
    Piece *p = data;
    size_t length;
    const char *text = record_text(p, &length);
    row_end(&p->row, text, length);
}

// A record that libcsv gave up on is put aside whole, and reading goes on behind its line.
static void broken(Piece *p) {
    size_t length;
    const char *text = record_text(p, &length);
    row_broken(&p->row, text, length);
    csv_free(&p->csv);
    start_csv(p);
}

bool piece_inside(const Piece *p) {
    return p->csv.pstate != 0; // ROW_NOT_BEGUN
}

const char *piece_line_end(const char *text, const char *end) {
    const char *lf = memchr(text, '\n', (size_t)(end - text));
    const char *stop_at = lf ? lf + 1 : end;
    const char *cr = memchr(text, '\r', (size_t)(stop_at - text));
    if (!cr || cr + 1 == lf)
        return stop_at;
    return cr + 1;
}

static void feed_line(Piece *p, const char *line) {
    const size_t length = (size_t)(p->end - line);
    p->lines++;
    if (!piece_inside(p)) {
        p->start = line;
        g_string_truncate(p->carried, 0);
        row_begin(&p->row, p->lines);
    }
    if (csv_parse(&p->csv, line, length, on_cell, on_record, p) != length)
        broken(p);
}

bool piece_feed(Piece *p, const char *text, size_t length) {
    const char *const end = text + length;
    p->start = text;
    for (const char *line = text; line < end; line = p->end) {
        p->end = piece_line_end(line, end);
        feed_line(p, line);
        if (p->row.no_memory)
            return stop(p, p->row.line, "out of memory");
        if (piece_inside(p) && p->carried->len + (size_t)(p->end - p->start) > PIECE_LONGEST_RECORD)
            return stop(p, p->row.line,
                        "this record is longer than 16 MiB: maybe a quote in it is not closed");
    }
    if (piece_inside(p)) {
        g_string_append_len(p->carried, p->start, p->end - p->start);
        p->start = p->end;
    }
    return true;
}

bool piece_finish(Piece *p) {
    if (p->fault)
        return false;
    if (csv_fini(&p->csv, on_cell, on_record, p) != 0)
        return stop(p, p->row.line, "a quote is opened in this record and not closed");
    return !p->row.no_memory || stop(p, p->row.line, "out of memory");
}

const char *piece_fault(const Piece *p, uint32_t *line) {
    *line = p->fault_line;
    return p->fault;
}

uint32_t piece_lines(const Piece *p) {
    return p->lines;
}

uint64_t piece_rows(const Piece *p) {
    return p->row.rows;
}

Transfers *piece_transfers(Piece *p) {
    return p->t;
}

RowTimes piece_times(const Piece *p) {
    return p->row.times;
}

bool piece_serials(const Piece *piece) {
    return piece->row.record.serial_seen;
}

bool piece_undecided(const Piece *piece) {
    return piece->row.undecided;
}

const GuardColumn *piece_guard(const Piece *p) {
    return p->row.guard;
}

Findings *piece_findings(Piece *p) {
    return p->findings;
}

size_t piece_whole_records(const char *text, size_t n, size_t length) {
    size_t quotes = 0;
    for (const char *q = text; (q = memchr(q, '"', (size_t)(text + n - q))); q++)
        quotes++;
    for (size_t end = n; end > 0; end--) {
        const char last = text[end - 1];
        // a CR at the very end may be half of a CRLF
        const bool line_end = last == '\n' || (last == '\r' && end < length && text[end] != '\n');
        if (line_end && quotes % 2 == 0)
            return end;
        quotes -= last == '"';
    }
    return 0;
}

size_t piece_whole_lines(const char *text, size_t length) {
    for (size_t end = length; end > 1; end--)
        if (text[end - 2] == '\n' || (text[end - 2] == '\r' && text[end - 1] != '\n'))
            return end - 1;
    return 0;
}
