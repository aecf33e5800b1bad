// SPDX-License-Identifier: GPL-3.0-or-later
// `crossward synth`: invents a network and its logs from a seed, and writes the truth beside them.
#include "command/command.h"
#include "command/session.h"
#include "command/synth_style.h"

#include "base/outfile.h"
#include "pack/folder.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

typedef struct {
    SynthSettings invent;
    bool canonical; // all logs
    char *dir;
    Folder *folder; // NULL: dir was there before
    const SynthNetwork *network;
} Writing;

#define MOST_UNITS 1000 // also said as text

static SynthStyle style_of(const Writing *w, guint unit) {
    return w->canonical ? SYNTH_CANONICAL : synth_style_of(unit);
}

static const SynthUnit *unit_of(const Writing *w, guint u) {
    return &g_array_index(w->network->units, SynthUnit, u);
}

// Writes the text below the folder; frees it.
static bool write_file(const Writing *w, const char *name, GString *text, GError **error) {
    char *path = g_build_filename(w->dir, name, NULL);
    const bool good = w->folder ? folder_write(w->folder, name, text->str, text->len, error)
                                : outfile_write(path, text->str, text->len, error);
    g_string_free(text, TRUE);
    g_free(path);
    return good;
}

static bool write_logs(const Writing *w, GError **error) {
    bool good = true;
    for (guint u = 0; good && u < w->network->units->len; u++) {
        char *name = g_strdup_printf("logs/%s.csv", unit_of(w, u)->code);
        good = write_file(w, name, synth_style_log(w->network, u, style_of(w, u)), error);
        g_free(name);
    }
    return good;
}

static bool is_used(const Writing *w, SynthStyle style) {
    for (guint u = 0; u < w->network->units->len; u++)
        if (style_of(w, u) == style)
            return true;
    return false;
}

static bool write_mappings(const Writing *w, GError **error) {
    bool good = true;
    for (int s = SYNTH_CANONICAL + 1; good && s < SYNTH_STYLES; s++) {
        if (!is_used(w, (SynthStyle)s))
            continue;
        char *name = g_strconcat("network/", synth_style_mapping_name((SynthStyle)s), NULL);
        good = write_file(w, name, synth_style_mapping((SynthStyle)s), error);
        g_free(name);
    }
    return good;
}

static GString *network_ini(const Writing *w) {
    GString *out = g_string_new(
        "# Invented: no real network is meant.\n[network]\nname = Arbor network (invented data)\n"
        "timezone = " SYNTH_ZONE "\nholidays = 2030-01-01;2030-12-25;2031-01-01;2031-12-25\n\n"
        "[targets]\ntime-critical = 120\nurgent = 360\nsource = invented, for the demo\n\n"
        "[caps]\nwait = 14400\njourney = 1440\nhandover = 720\naway = 2880\n");
    for (guint u = 0; u < w->network->units->len; u++) {
        if (style_of(w, u) == SYNTH_CANONICAL)
            continue;
        char *section = synth_style_section(w->network, u, style_of(w, u));
        g_string_append_printf(out, "\n%s", section);
        g_free(section);
    }
    return out;
}

// What the demo's network asks of a replay.
static const char replay_ini[] =
    "# Invented: what dedicated teams might be like.\n[rules]\nteams = 6\nmobilisation = 30\n\n"
    "[wait]\ntime-critical = no\nurgent = 120\nplanned = 720\n";

static GString *units_csv(const Writing *w) {
    GString *out = g_string_new("unit,name,region,beds\n");
    for (guint u = 0; u < w->network->units->len; u++)
        g_string_append_printf(out, "%s,%s (invented),%s,%d\n", unit_of(w, u)->code,
                               unit_of(w, u)->name, u % 2 ? "south" : "north",
                               6 + (int)(unit_of(w, u)->moves / 8));
    return out;
}

// A number with a point, whatever the locale.
static void fact(GString *out, const char *name, double value) {
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    g_ascii_formatd(text, sizeof text, "%g", value);
    g_string_append_printf(out, "\"%s\": %s", name, text);
}

static const char *planted(const Writing *w, guint unit) {
    return unit < w->network->units->len ? unit_of(w, unit)->code : NULL;
}

static void effect(GString *out, const char *name, const char *unit, double usual, double there) {
    if (!unit)
        return;
    g_string_append_printf(out, "    \"%s\": {\"unit\": \"%s\", ", name, unit);
    fact(out, "elsewhere", usual);
    g_string_append(out, ", ");
    fact(out, "there", there);
    g_string_append(out, "},\n");
}

static void effects(GString *out, const Writing *w) {
    g_string_append(out, "  \"effects\": {\n");
    effect(out, "share_moved_for_non_clinical_reasons", planted(w, SYNTH_NON_CLINICAL_UNIT),
           SYNTH_NON_CLINICAL, SYNTH_NON_CLINICAL_MANY);
    effect(out, "share_with_each_paper_done", planted(w, SYNTH_WEAK_PAPERS_UNIT), SYNTH_PAPERS,
           SYNTH_PAPERS_WEAK);
    g_string_append(out, "    \"odds_of_any_event\": {");
    fact(out, "not_ventilated", SYNTH_EVENT_ODDS);
    g_string_append(out, ", ");
    fact(out, "odds_ratio_if_ventilated", SYNTH_VENTILATED_ODDS_RATIO);
    g_string_append(out, "},\n    \"waits_of_time_critical_patients\": {");
    fact(out, "factor", SYNTH_FASTER);
    g_string_append_printf(out, ", \"from\": \"%d-Q1\"}", SYNTH_FIRST_YEAR + SYNTH_BETTER_FROM / 4);
    if (planted(w, SYNTH_SILENT_UNIT))
        g_string_append_printf(
            out, ",\n    \"no_log\": {\"unit\": \"%s\", \"months\": [\"%d-%02d\", \"%d-%02d\"]}",
            planted(w, SYNTH_SILENT_UNIT), SYNTH_FIRST_YEAR + SYNTH_SILENT_FIRST / 12,
            SYNTH_SILENT_FIRST % 12 + 1, SYNTH_FIRST_YEAR + SYNTH_SILENT_LAST / 12,
            SYNTH_SILENT_LAST % 12 + 1);
    g_string_append(out, "\n  },\n");
}

static void count(GString *out, const char *name, uint64_t n, const char *end) {
    g_string_append_printf(out, "    \"%s\": %" G_GUINT64_FORMAT "%s\n", name, n, end);
}

static GString *truth(const Writing *w) {
    const SynthNetwork *n = w->network;
    GString *out = g_string_new("{\n  \"invented\": true,\n");
    g_string_append_printf(
        out, "  \"seed\": %d,\n  \"quarters\": %d,\n  \"requests\": %" G_GUINT64_FORMAT ",\n",
        w->invent.seed, w->invent.quarters, n->requests);
    effects(out, w);
    g_string_append(out, "  \"departed_between_units_that_log_both_ends\": {\n");
    count(out, "all", n->moved_in_two, ",");
    count(out, "in_the_senders_log", n->sent_logged, ",");
    count(out, "in_the_receivers_log", n->received_logged, ",");
    count(out, "in_both", n->both_logged, ",");
    count(out, "in_neither", n->never_logged, "");
    g_string_append(out, "  }\n}\n");
    return out;
}

static GString *pairs_csv(const Writing *w) {
    GString *out = g_string_new("sender,record,receiver,record_there\n");
    for (guint i = 0; i < w->network->pairs->len; i++) {
        const SynthPair *p = &g_array_index(w->network->pairs, SynthPair, i);
        g_string_append_printf(out, "%s,%" G_GUINT64_FORMAT ",%s,%" G_GUINT64_FORMAT "\n",
                               unit_of(w, p->from)->code, p->sent, unit_of(w, p->to)->code,
                               p->received);
    }
    return out;
}

static void command_line(GString *out, const Writing *w) {
    const SynthSettings *i = &w->invent;
    g_string_append_printf(out, "crossward synth --seed %d --units %d --quarters %d", i->seed,
                           i->units, i->quarters);
    if (i->transfers)
        g_string_append_printf(out, " --transfers %d", i->transfers);
    g_string_append_printf(out, "%s --out DIR", w->canonical ? " --style canonical" : "");
}

static GString *read_me(const Writing *w) {
    GString *out = g_string_new(
        "# Sample data: an invented network\n\nEvery unit, patient and figure here is invented, "
        "from a seed. No hospital, person or service is\nmeant, and nothing here is evidence about "
        "any. This very folder is what this makes, byte for byte:\n\n    ");
    command_line(out, w);
    g_string_append(out, "\n\n- `logs/`: one log for each unit, as that unit keeps it:\n");
    for (int s = 0; s < SYNTH_STYLES; s++) {
        if (!is_used(w, (SynthStyle)s))
            continue;
        g_string_append(out, "  -");
        for (guint u = 0; u < w->network->units->len; u++)
            if (style_of(w, u) == (SynthStyle)s)
                g_string_append_printf(out, " %s", unit_of(w, u)->code);
        g_string_append_printf(out, ": %s\n", synth_style_words((SynthStyle)s));
    }
    g_string_append(
        out, "- `network/`: the network's settings, its units, the mappings that "
             "read foreign logs, and the rules\n  of the replay of dedicated teams (replay.ini)\n"
             "- `truth.json`: what was planted, so that a reader can check what the "
             "audit finds\n- `truth-pairs.csv`: which transfers both ends logged, as "
             "which record of each log\n\nUnits that log what they receive:");
    for (guint u = 0; u < w->network->units->len; u++)
        if (unit_of(w, u)->logs_received)
            g_string_append_printf(out, " %s", unit_of(w, u)->code);
    g_string_append(
        out,
        ". Their logs hold some transfers a second time, as the other end saw "
        "them.\nWith `--style canonical` the same transfers come in canonical logs, and `network/` "
        "holds neither mappings nor rules.\n");
    return out;
}

static bool make_folder(const char *path, GError **error) {
    return g_mkdir_with_parents(path, 0755) == 0 ||
           (g_set_error(error, G_FILE_ERROR, G_FILE_ERROR_IO, "%s: %s", path, g_strerror(errno)),
            false);
}

static bool write_all(const Writing *w, GError **error) {
    return write_logs(w, error) && write_mappings(w, error) &&
           write_file(w, "network/network.ini", network_ini(w), error) &&
           (w->canonical || write_file(w, "network/replay.ini", g_string_new(replay_ini), error)) &&
           write_file(w, "network/units.csv", units_csv(w), error) &&
           write_file(w, "truth.json", truth(w), error) &&
           write_file(w, "truth-pairs.csv", pairs_csv(w), error) &&
           write_file(w, "README.md", read_me(w), error);
}

// Into a folder that is there already: each file whole, beside those of other names.
static bool write_into(const Writing *w, GError **error) {
    char *logs = g_build_filename(w->dir, "logs", NULL),
         *network = g_build_filename(w->dir, "network", NULL);
    const bool good =
        make_folder(logs, error) && make_folder(network, error) && write_all(w, error);
    g_free(logs);
    g_free(network);
    return good;
}

// A new folder, there whole or not at all.
static bool write_new(Writing *w, GError **error) {
    for (size_t n = strlen(w->dir); n > 1 && w->dir[n - 1] == '/'; n--)
        w->dir[n - 1] = 0;
    char *parent = g_path_get_dirname(w->dir);
    w->folder = make_folder(parent, error) ? folder_begin(w->dir, false, error) : NULL;
    const bool good = w->folder && write_all(w, error) && folder_publish(w->folder, error);
    g_clear_pointer(&w->folder, folder_free);
    g_free(parent);
    return good;
}

static bool parse(char **argv, Writing *w, GError **error) {
    char *style = NULL;
    gboolean quiet = FALSE; // it never says more; scripts may say so to every command
    GOptionEntry entries[] = {
        {"seed", 0, 0, G_OPTION_ARG_INT, &w->invent.seed, "what the invention starts from (1)",
         "N"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &w->dir,
         "folder to write logs, network and truth into", "DIR"},
        {"units", 0, 0, G_OPTION_ARG_INT, &w->invent.units, "how many, 2 or more (12)", "N"},
        {"quarters", 0, 0, G_OPTION_ARG_INT, &w->invent.quarters, "length (8)", "N"},
        {"transfers", 0, 0, G_OPTION_ARG_INT, &w->invent.transfers,
         "about so many requests in all (as the network is)", "N"},
        {"style", 0, 0, G_OPTION_ARG_STRING, &style,
         "mixed: units keep their logs in four house styles; canonical: all alike (mixed)", "S"},
        {"quiet", 0, G_OPTION_FLAG_HIDDEN, G_OPTION_ARG_NONE, &quiet, NULL, NULL},
        {0},
    };
    GOptionContext *context = g_option_context_new("--out DIR");
    g_option_context_set_summary(
        context, "Invents a network and its logs from a seed; every number in them is invented.");
    g_option_context_add_main_entries(context, entries, NULL);
    char **copy = g_strdupv(argv);
    bool good = g_option_context_parse_strv(context, &copy, error) &&
                (!w->dir || session_names("--out", w->dir, error));
    const bool extra = good && g_strv_length(copy) > 1;
    g_strfreev(copy);
    g_option_context_free(context);
    w->canonical = style && !strcmp(style, "canonical");
    const SynthSettings *i = &w->invent;
    const char *why = NULL;
    if (!w->dir)
        why = "name the folder to write into: --out DIR";
    else if (extra)
        why = "synth reads nothing, so it takes no word besides its options";
    else if (i->units < 2 || i->units > MOST_UNITS)
        why = "--units lies between 2 and " G_STRINGIFY(MOST_UNITS) ": a transfer has two ends";
    else if (i->quarters < 1 || i->quarters > 40)
        why = "--quarters lies between 1 and 40";
    else if (i->transfers < 0)
        why = "--transfers is 1 or more";
    else if (style && !w->canonical && strcmp(style, "mixed") != 0)
        why = "--style is mixed or canonical";
    if (good && why)
        g_set_error_literal(error, G_OPTION_ERROR, G_OPTION_ERROR_BAD_VALUE, why);
    g_free(style);
    return good && !why;
}

int synth_run(int argc, char **argv, GError **error) {
    (void)argc;
    Writing w = {.invent = {1, 8, 12, 0}};
    int code = COMMAND_USAGE;
    if (parse(argv, &w, error)) {
        SynthNetwork *network = synth_invent(&w.invent);
        w.network = network;
        const bool there = g_file_test(w.dir, G_FILE_TEST_EXISTS);
        code =
            (there ? write_into(&w, error) : write_new(&w, error)) ? COMMAND_DONE : COMMAND_OUTPUT;
        synth_invent_free(network);
    }
    g_free(w.dir);
    return code;
}
