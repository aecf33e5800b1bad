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
