-- SPDX-License-Identifier: GPL-3.0-or-later
-- Views for reading the cohort. PostgreSQL takes them as they are.

-- Events that reached a patient: a near miss is kept in events, but is no adverse event.
CREATE VIEW adverse_events AS
SELECT transfer, number, category, harm
FROM events
WHERE harm IS NULL OR harm <> 'near-miss';

-- From whom to whom, and what became of the requests. receiving_unit is NULL where it is unknown.
CREATE VIEW flow_matrix AS
SELECT
    sending_unit,
    receiving_unit,
    count(*) AS requests,
    count(*) FILTER (WHERE departed = 'yes') AS departed,
    count(*) FILTER (WHERE departed = 'no') AS not_departed,
    count(*) FILTER (WHERE departed IS NULL) AS unknown
FROM transfers
GROUP BY sending_unit, receiving_unit;

-- The phases of each transfer one after another, in minutes of absolute time. Only those with the state 'valid' count:
-- both times known, in order, and no longer than the network believes (caps).
CREATE VIEW phases AS
WITH pair AS (
    SELECT transfer, sending_unit, month, 1 AS ordinal, 'requested_at' AS from_field, 'accepted_at' AS to_field,
        requested_at_epoch AS from_epoch, accepted_at_epoch AS to_epoch
    FROM transfers
    UNION ALL
    SELECT transfer, sending_unit, month, 2, 'accepted_at', 'team_ready_at', accepted_at_epoch, team_ready_at_epoch
    FROM transfers
    UNION ALL
    SELECT transfer, sending_unit, month, 3, 'team_ready_at', 'at_patient_at', team_ready_at_epoch, at_patient_at_epoch
    FROM transfers
    UNION ALL
    SELECT transfer, sending_unit, month, 4, 'at_patient_at', 'departed_at', at_patient_at_epoch, departed_at_epoch
    FROM transfers
    UNION ALL
    SELECT transfer, sending_unit, month, 5, 'departed_at', 'arrived_at', departed_at_epoch, arrived_at_epoch
    FROM transfers
    UNION ALL
    SELECT transfer, sending_unit, month, 6, 'arrived_at', 'handed_over_at', arrived_at_epoch, handed_over_at_epoch
    FROM transfers
    UNION ALL
    SELECT transfer, sending_unit, month, 7, 'handed_over_at', 'returned_at', handed_over_at_epoch, returned_at_epoch
    FROM transfers
)
SELECT
    pair.transfer,
    pair.sending_unit,
    pair.month,
    pair.ordinal,
    pair.from_field,
    pair.to_field,
    (pair.to_epoch - pair.from_epoch) / 60 AS minutes,
    CASE
        WHEN pair.from_epoch IS NULL OR pair.to_epoch IS NULL THEN 'unknown'
        WHEN pair.to_epoch < pair.from_epoch THEN 'out of order'
        WHEN (pair.to_epoch - pair.from_epoch) / 60 > caps.minutes THEN 'not believable'
        ELSE 'valid'
    END AS state
FROM pair
LEFT JOIN caps ON caps.from_field = pair.from_field AND caps.to_field = pair.to_field;

-- How many of a unit's records of a month have each field that a log can carry.
CREATE VIEW completeness AS
--@ completeness
;

-- Absences of a sending unit's own people from their base, from the team being ready to the escort being back.
CREATE VIEW absences AS
SELECT
    transfers.transfer,
    transfers.sending_unit AS unit,
    transfers.month,
    transfers.team_ready_at_epoch AS left_epoch,
    transfers.returned_at_epoch AS back_epoch,
    (transfers.returned_at_epoch - transfers.team_ready_at_epoch) / 60 AS minutes
FROM transfers
LEFT JOIN caps ON caps.from_field = 'team_ready_at' AND caps.to_field = 'returned_at'
WHERE transfers.departed = 'yes'
    AND transfers.team = 'sending-unit'
    AND transfers.returned_at_epoch >= transfers.team_ready_at_epoch
    AND (caps.minutes IS NULL OR (transfers.returned_at_epoch - transfers.team_ready_at_epoch) / 60 <= caps.minutes);

-- Hours for which one or more, and two or more, of a unit's teams were away at once.
CREATE VIEW absence_hours AS
WITH change AS (
    SELECT unit, left_epoch AS epoch, 1 AS more FROM absences
    UNION ALL
    SELECT unit, back_epoch, -1 FROM absences
),
spell AS (
    SELECT
        unit,
        sum(more) OVER (in_time ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW) AS teams_away,
        lead(epoch) OVER in_time - epoch AS seconds
    FROM change
    WINDOW in_time AS (PARTITION BY unit ORDER BY epoch, more)
)
SELECT
    unit,
    coalesce(sum(seconds) FILTER (WHERE teams_away >= 1), 0) / 3600.0 AS hours_one_or_more,
    coalesce(sum(seconds) FILTER (WHERE teams_away >= 2), 0) / 3600.0 AS hours_two_or_more
FROM spell
GROUP BY unit;

-- The rest is for the views that count. In them the code '' stands for unknown, since no code is empty and NULL can't
-- be joined on.

-- The parts of each mix: all codes of its field, or the units that occur in it. Other measures have the one part ''.
CREATE VIEW indicator_parts AS
SELECT indicator, '' AS part
FROM catalogue
WHERE mix_field IS NULL
UNION ALL
SELECT catalogue.indicator, codes.code
FROM catalogue
JOIN codes ON codes.field = catalogue.mix_field
UNION ALL
SELECT catalogue.indicator, occurring_codes.code
FROM catalogue
JOIN occurring_codes ON occurring_codes.field = catalogue.mix_field
WHERE occurring_codes.code <> '' AND NOT EXISTS (SELECT 1 FROM codes WHERE codes.field = catalogue.mix_field);

-- The units and periods that are reported on. Breakdowns (grouped = 1) are given for the network in each period, and for a
-- unit over the whole; months for the network only.
CREATE VIEW reported AS
SELECT 'all' AS unit, period, 1 AS grouped
FROM periods
UNION ALL
SELECT occurring_codes.code, periods.period, CASE WHEN periods.kind = 'all' THEN 1 ELSE 0 END
FROM occurring_codes, periods
WHERE occurring_codes.field = 'sending_unit' AND periods.kind <> 'month';

-- Where the records of a sending unit (member) and month count: its own periods, and the network's.
CREATE VIEW reported_months AS
SELECT reported.unit, reported.period, reported.grouped, occurring_codes.code AS member, month.first_month AS month
FROM reported
JOIN occurring_codes
    ON occurring_codes.field = 'sending_unit' AND (reported.unit = 'all' OR occurring_codes.code = reported.unit)
JOIN periods ON periods.period = reported.period
JOIN periods AS month
    ON month.kind = 'month' AND periods.first_month <= month.first_month AND month.first_month < periods.end_month;

-- Every cell that is reported, whether or not a record counts in it.
CREATE VIEW reported_cells AS
SELECT
    breakdowns.indicator, reported.unit, reported.period, breakdowns.field, occurring_codes.code, indicator_parts.part
FROM breakdowns
JOIN occurring_codes ON occurring_codes.field = breakdowns.field
JOIN indicator_parts ON indicator_parts.indicator = breakdowns.indicator
JOIN reported ON breakdowns.field = 'all' OR reported.grouped = 1;
