-- SPDX-License-Identifier: GPL-3.0-or-later
-- Tables of the exported database. The columns at the mark come from the field table when the program is built.
--
-- NULL is unknown everywhere, never "no". Local times are ISO 8601 in the network's time zone (see meta); *_epoch are
-- seconds since 1970-01-01T00:00 UTC, so that differences are right across changes of the clocks.
--
-- PostgreSQL takes these statements too, once STRICT (SQLite's word for columns that keep to their type) is taken
-- out, INTEGER is read as BIGINT and REAL as DOUBLE PRECISION. The views need no change.

-- What was read with which settings.
CREATE TABLE meta (
    key   TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT;

-- The log files, in the order they were read.
CREATE TABLE inputs (
    input  INTEGER PRIMARY KEY,
    name   TEXT NOT NULL,    -- below the LOG that was given
    bytes  INTEGER NOT NULL,
    sha256 TEXT NOT NULL,
    row_count INTEGER NOT NULL -- records after the header that are not blank
) STRICT;

-- Every row that was read is in one of these; "read" is the sum of the others.
CREATE TABLE account (
    part TEXT PRIMARY KEY
        CHECK (part IN ('read', 'used', 'put_aside', 'repeated', 'merged', 'left_out')),
    row_count INTEGER NOT NULL CHECK (row_count >= 0)
) STRICT;

-- The field table, and the codes of each field in print order.
CREATE TABLE fields (
    field       TEXT PRIMARY KEY,
    ordinal     INTEGER NOT NULL,
    kind        TEXT NOT NULL
        CHECK (kind IN ('id', 'unit', 'code', 'date', 'time', 'events', 'number')),
    derived     INTEGER NOT NULL CHECK (derived IN (0, 1)), -- 1: computed from the others
    description TEXT NOT NULL
) STRICT;

CREATE TABLE codes (
    field      TEXT NOT NULL, -- a field, 'event' (categories) or 'harm' (degrees)
    code       TEXT NOT NULL,
    ordinal    INTEGER NOT NULL,
    definition TEXT NOT NULL,
    PRIMARY KEY (field, code)
) STRICT;

-- Every unit that a log or the network's units.csv names.
CREATE TABLE units (
    unit TEXT PRIMARY KEY CHECK (unit <> '' AND unit <> 'all'),
    name TEXT -- NULL if units.csv does not name it
) STRICT;

-- The cohort: one row is one transfer, or a request for one.
CREATE TABLE transfers (
    transfer INTEGER PRIMARY KEY,
    input    INTEGER NOT NULL REFERENCES inputs (input), -- log it was read from
    line     INTEGER NOT NULL,                           -- line of that log, from 1
    other_input INTEGER REFERENCES inputs (input), -- the other end's log, where its row was joined into this one
    other_line  INTEGER,
    day      TEXT NOT NULL, -- local day it belongs to: of requested_at, else transfer_date, else departed_at
    month    TEXT NOT NULL, -- of that day, 2031-07
--@ columns
) STRICT;

-- The events of a transfer, near misses included. A transfer without rows here had none, or (transfers.events is
-- NULL) nobody wrote down whether there were any.
CREATE TABLE events (
    transfer INTEGER NOT NULL REFERENCES transfers (transfer),
    number   INTEGER NOT NULL, -- place in the record's list, from 1
    category TEXT NOT NULL
--@ check category event,
    harm     TEXT -- NULL: not graded
--@ check harm harm,
    PRIMARY KEY (transfer, number)
) STRICT;

-- What was found about the logs.
CREATE TABLE findings (
    finding  INTEGER PRIMARY KEY,
    input    INTEGER REFERENCES inputs (input), -- NULL: the logs together
    line     INTEGER NOT NULL, -- 0: the file as a whole
    column_number INTEGER,     -- from 1; NULL: the row
    field    TEXT REFERENCES fields (field),
    severity TEXT NOT NULL CHECK (severity IN ('note', 'repair', 'lost', 'severe')),
    code     TEXT NOT NULL,
    found    TEXT,             -- the cell as found, cut to 40 bytes
    message  TEXT NOT NULL
) STRICT;

-- Periods in print order. A record belongs to those that hold its month: first_month <= month < end_month.
CREATE TABLE periods (
    period      TEXT PRIMARY KEY,
    ordinal     INTEGER NOT NULL,
    kind        TEXT NOT NULL CHECK (kind IN ('all', 'year', 'quarter', 'month')),
    first_month TEXT NOT NULL,
    end_month   TEXT NOT NULL,
    days        INTEGER NOT NULL -- of it that lie between the first and the last used record, or in the span asked for
) STRICT;

-- Longest believable minutes from one time to another; pairs that are not listed have no limit.
CREATE TABLE caps (
    from_field TEXT NOT NULL REFERENCES fields (field),
    to_field   TEXT NOT NULL REFERENCES fields (field),
    minutes    INTEGER NOT NULL CHECK (minutes >= 0),
    PRIMARY KEY (from_field, to_field)
) STRICT;

-- The catalogue that was counted.
CREATE TABLE catalogue (
    indicator TEXT PRIMARY KEY,
    ordinal   INTEGER NOT NULL,
    title     TEXT NOT NULL,
    measure   TEXT NOT NULL
        CHECK (measure IN ('share', 'rate', 'quantile', 'mix', 'count', 'hours', 'overlap')),
    event_condition TEXT NOT NULL, -- what is counted: a condition, a duration from..to, or the field of a mix
    among     TEXT NOT NULL,       -- the records it is counted among
    scale     TEXT NOT NULL,
    exposure  TEXT CHECK (exposure IN ('transfers', 'hours', 'km', 'weeks')), -- what the total of a rate is in
    mix_field TEXT,                -- field that a mix is over ('event' for categories of events)
    better    TEXT CHECK (better IN ('lower', 'higher')),
    compare   TEXT,                -- whose records are held against other units'; NULL: no unit is judged by it
    note      TEXT,
    view_name TEXT NOT NULL UNIQUE -- the view that says what each record adds to it
) STRICT;

-- What each indicator is broken down by; field 'all' is the whole.
CREATE TABLE breakdowns (
    indicator TEXT NOT NULL REFERENCES catalogue (indicator),
    field     TEXT NOT NULL,
    ordinal   INTEGER NOT NULL,
    PRIMARY KEY (indicator, field)
) STRICT;

-- The codes and units that the used records have in each field that something is broken down by or mixed of, and as
-- sending units. '' stands for unknown. Field 'all' has the one code 'all'.
CREATE TABLE occurring_codes (
    field TEXT NOT NULL,
    code  TEXT NOT NULL,
    PRIMARY KEY (field, code)
) STRICT;

-- Every estimate, as in the pack's summary.csv. The view indicator_counts finds its counts again from the records.
CREATE TABLE estimates (
    estimate_row INTEGER PRIMARY KEY, -- order of summary.csv
    indicator  TEXT NOT NULL REFERENCES catalogue (indicator),
    measure    TEXT NOT NULL,
    unit       TEXT NOT NULL, -- sending unit, or 'all'
    period     TEXT NOT NULL REFERENCES periods (period),
    group_name TEXT NOT NULL,
    events     REAL,
    total      REAL,
    estimate   REAL,
    lower_limit REAL,
    upper_limit REAL,
    confidence REAL NOT NULL,
    method     TEXT NOT NULL,
    unknown    INTEGER NOT NULL,
    if_unknown_none REAL,
    if_unknown_all  REAL,
    scale      TEXT NOT NULL
) STRICT;
