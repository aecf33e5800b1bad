// SPDX-License-Identifier: GPL-3.0-or-later
// Base cover: what it costs the sending units when their own people go away with a patient.
#ifndef CROSSWARD_MEASURE_COVER_H
#define CROSSWARD_MEASURE_COVER_H

#include "record/transfers.h"
#include "stats/interval.h"

// An absence is that of one team: a record with departed=yes and team=sending-unit, away in
// [team_ready_at, returned_at). It is whole if both times are known, in order and within the cap
// [caps] away; else it is incomplete, and its hours are bounded:
//   lower: from the first to the last known of team_ready_at, at_patient_at, departed_at,
//          arrived_at, handed_over_at and returned_at (0 if they are out of order);
//   upper: the cap, or without one the longest whole absence of the network (see upper_basis).
// A record for which `departed` or `team` is unknown may be an absence: `maybe`, lower 0, upper its
// own hours or the same limit. Hours are hours of a team; the second attendant's are given apart.
enum { COVER_AT_ONCE = 4, COVER_WEEK_HOURS = 168 };

// Hours away of some of the absences. Limits as for measure `hours`: Fay & Feuer 1997.
typedef struct {
    uint64_t absences;          // whole ones
    StatsInterval hours;        // hours of the whole ones together
    StatsInterval per_week;     // hours a week
    StatsInterval per_transfer; // hours for each whole absence
    double whole_time;          // per_week / weekly hours of one whole-time person
} CoverHours;

// A share with its counts; Wilson limits, of a mix Goodman's (all NaN if total is 0).
typedef struct {
    uint64_t events, total, unknown;
    StatsInterval share;
} CoverShare;

typedef struct {
    uint16_t unit;                        // index into the transfers' units, 0 = all units together
    double weeks;                         // of the period, alike for every unit
    uint64_t transfers;                   // absences, whole or incomplete
    uint64_t incomplete;                  // of them
    uint64_t maybe;                       // records that may be absences
    uint64_t unbounded;                   // incomplete or maybe, while no upper limit is known
    double hours_at_least, hours_at_most; // whole, and bounds of the rest; at_most NaN if unbounded
    double hours_if_alike; // incomplete ones as long as the unit's whole ones on average

    CoverHours all;
    CoverHours by_grade[CODE_escort_grade_END];   // 0 = unknown
    CoverHours by_second[CODE_second_escort_END]; // the second attendant's hours, 0 = unknown
    CoverHours with_second; // of them all together (second_escort known and not `none`)
    CoverHours clinical, non_clinical, repatriation; // by reason_group
    double people_whole_time; // whole-time people: team hours and the second attendants'

    CoverShare out_of_hours;          // of absences (whole or not), by out_of_hours
    StatsInterval hours_out_of_hours; // of the hours away, those out of hours; block-linearised
    CoverShare cover[4]; // base_cover of absences by its code 1 to 3: maintained, reduced,
                         // uncovered; [0]: reduced or uncovered, Wilson
    // [k - 1]: hours with k or more of the unit's teams away at once (of `all`: summed over units)
    double at_least[COVER_AT_ONCE];
    StatsInterval overlapping[COVER_AT_ONCE]; // at_least[k - 1] / at_least[0]; block-linearised
    unsigned most_at_once;                    // teams
    double longest_absence;                   // hours, of one team
    double longest_stretch;                   // hours that a unit had somebody away without a break
    double longest_stretch_of_two;            // two or more
    double by_hour[COVER_WEEK_HOURS]; // team hours away by local hour of the week, 0 = Monday 00:00
    double mean_away[COVER_WEEK_HOURS];   // mean number of teams away in that hour
    double two_by_hour[COVER_WEEK_HOURS]; // hours with two or more of the unit's teams away (of
                                          // `all`: summed over units) by hour of the week
} CoverUnit;

typedef struct {
    GPtrArray *units;        // of CoverUnit: `all` first, then sending units by their codes
    double weekly_hours;     // of one whole-time person, [base] weekly_hours
    double upper_hours;      // upper limit for an incomplete absence; NaN if there is none
    const char *upper_basis; // "cap", "longest" or "none"
    double confidence;
} Cover;

// Base cover over the records whose day lies in [first_day, end_day); WHEN_UNKNOWN as first_day:
// all records, and weeks run from the first to the last record's day. Derived columns must be
// filled. Free with cover_free.
Cover *cover_measure(const Transfers *t, const Network *network, int32_t first_day, int32_t end_day,
                     double confidence);
void cover_free(Cover *cover);

#endif
