// SPDX-License-Identifier: GPL-3.0-or-later
// House styles: how a unit writes its log, and the mapping that reads it.
#ifndef CROSSWARD_COMMAND_SYNTH_STYLE_H
#define CROSSWARD_COMMAND_SYNTH_STYLE_H

#include "command/synth_invent.h"

typedef enum {
    SYNTH_CANONICAL,
    SYNTH_SEMICOLON, // decimal comma, day-first dates, Windows-1252, own words
    SYNTH_WIDE,      // a column for each kind of event, dates and clocks apart, one date a journey
    SYNTH_SPREADSHEET, // serial dates, notes above the heading, a row of totals
    SYNTH_STYLES
} SynthStyle;

// The style that a unit's log has in the mixed network.
SynthStyle synth_style_of(guint unit);

// A unit's whole log in the style, in the style's encoding. Free with g_string_free.
GString *synth_style_log(const SynthNetwork *network, guint unit, SynthStyle style);

// The mapping of the style (not of the canonical one), its name below the network's folder, and the
// unit's section of network.ini. Free the first and the last with g_string_free and g_free.
GString *synth_style_mapping(SynthStyle style);
const char *synth_style_mapping_name(SynthStyle style);
char *synth_style_section(const SynthNetwork *network, guint unit, SynthStyle style);

// What the style is, in a few words.
const char *synth_style_words(SynthStyle style);

#endif
