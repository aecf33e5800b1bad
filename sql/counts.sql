-- SPDX-License-Identifier: GPL-3.0-or-later
-- From what each record adds to an indicator (view indicator_records, and one view an indicator, written when the
-- database is) to the counts of every unit, period and group. PostgreSQL takes these views as they are.
--
-- In these views the code '' stands for unknown, since no code is empty and NULL can't be joined on.

-- The codes and units that occur in each field that something is broken down by; field 'all' is the whole.
CREATE VIEW occurring_codes AS
SELECT 'all' AS field, 'all' AS code
UNION
SELECT
    by_field.field,
    coalesce(
--@ code by_field.field transfers
    , '') AS code
FROM (SELECT DISTINCT field FROM breakdowns WHERE field <> 'all') AS by_field, transfers;

-- The parts of each mix: all codes of its field, or the units that occur in it. Other measures have the one part ''.
CREATE VIEW indicator_parts AS
SELECT catalogue.indicator, '' AS part
FROM catalogue
WHERE catalogue.mix_field IS NULL
UNION
SELECT catalogue.indicator, codes.code
FROM catalogue
JOIN codes ON codes.field = catalogue.mix_field
UNION
SELECT occurring.indicator, occurring.part
FROM (
    SELECT
        catalogue.indicator,
--@ code catalogue.mix_field transfers
        AS part
    FROM catalogue, transfers
    WHERE catalogue.mix_field IS NOT NULL
) AS occurring
WHERE occurring.part IS NOT NULL;

-- The units that are reported on: each sending unit has its own records, 'all' has everybody's.
CREATE VIEW unit_members AS
SELECT DISTINCT sending_unit AS unit, sending_unit AS member FROM transfers
UNION ALL
SELECT DISTINCT 'all', sending_unit FROM transfers;

-- What the records of a sending unit and month come to, whole and in each breakdown.
CREATE VIEW indicator_months AS
SELECT indicator, sending_unit, month, field, code, part,
    sum(events) AS events, sum(total) AS total, sum(minutes) AS minutes, sum(unknown) AS unknown
FROM (
    SELECT
        indicator_records.indicator,
        transfers.sending_unit,
        transfers.month,
        breakdowns.field,
        coalesce(
--@ code breakdowns.field transfers
        , '') AS code,
        coalesce(indicator_records.part, '') AS part,
        indicator_records.events,
        indicator_records.total,
        indicator_records.minutes,
        indicator_records.unknown
    FROM indicator_records
    JOIN transfers ON transfers.transfer = indicator_records.transfer
    JOIN breakdowns ON breakdowns.indicator = indicator_records.indicator
) AS contribution
GROUP BY indicator, sending_unit, month, field, code, part;

-- The counts of every indicator, unit, period and group: the same rows, with the same numbers, as the table estimates.
CREATE VIEW indicator_counts AS
WITH
cell_part AS ( -- sums of each part over the months of a period and the members of a unit
    SELECT
        indicator_months.indicator, unit_members.unit, periods.period,
        indicator_months.field, indicator_months.code, indicator_months.part,
        sum(indicator_months.events) AS events,
        sum(indicator_months.total) AS total,
        sum(indicator_months.minutes) AS minutes,
        sum(indicator_months.unknown) AS unknown
    FROM indicator_months
    JOIN unit_members ON unit_members.member = indicator_months.sending_unit
    JOIN periods ON periods.first_month <= indicator_months.month AND indicator_months.month < periods.end_month
    GROUP BY
        indicator_months.indicator, unit_members.unit, periods.period,
        indicator_months.field, indicator_months.code, indicator_months.part
),
cell_whole AS ( -- all parts together
    SELECT indicator, unit, period, field, code, sum(total) AS total, sum(minutes) AS minutes, sum(unknown) AS unknown
    FROM cell_part
    GROUP BY indicator, unit, period, field, code
),
reported_unit AS (
    SELECT 'all' AS unit
    UNION
    SELECT sending_unit FROM transfers
),
quantile AS (
    SELECT 'quantile' AS measure, 'p25' AS name
    UNION ALL SELECT 'quantile', 'median'
    UNION ALL SELECT 'quantile', 'p75'
    UNION ALL SELECT 'quantile', 'p90'
),
cell AS ( -- every cell that is reported, empty ones too: months and breakdowns of single periods for the network only
    SELECT
        catalogue.indicator, catalogue.measure, catalogue.exposure, catalogue.mix_field,
        reported_unit.unit, periods.period, periods.days, occurring_codes.field, occurring_codes.code
    FROM catalogue
    JOIN breakdowns ON breakdowns.indicator = catalogue.indicator
    JOIN occurring_codes ON occurring_codes.field = breakdowns.field
    CROSS JOIN periods
    JOIN reported_unit ON reported_unit.unit = 'all'
        OR (periods.kind <> 'month' AND (breakdowns.field = 'all' OR periods.kind = 'all'))
)
SELECT
    cell.indicator,
    coalesce(quantile.name, cell.measure) AS measure,
    cell.unit,
    cell.period,
    CASE
        WHEN cell.field = 'all' AND cell.mix_field IS NULL THEN 'all'
        WHEN cell.field = 'all' THEN ''
        WHEN cell.code = '' THEN cell.field || '=unknown'
        ELSE cell.field || '=' || cell.code
    END
    || CASE WHEN cell.field <> 'all' AND cell.mix_field IS NOT NULL THEN ' & ' ELSE '' END
    || coalesce(cell.mix_field || '=' || indicator_parts.part, '') AS group_name,
    CASE WHEN cell.measure <> 'quantile' THEN coalesce(cell_part.events, 0) END AS events,
    CASE
        WHEN cell.measure IN ('count', 'hours', 'overlap') THEN NULL
        WHEN cell.exposure = 'weeks' THEN cell.days / 7.0
        WHEN cell.exposure = 'hours' THEN coalesce(cell_whole.minutes, 0) / 60.0 -- whole minutes add up exactly
        ELSE coalesce(cell_whole.total, 0)
    END AS total,
    coalesce(cell_whole.unknown, 0) AS unknown
FROM cell
JOIN indicator_parts ON indicator_parts.indicator = cell.indicator
LEFT JOIN quantile ON quantile.measure = cell.measure
LEFT JOIN cell_whole
    ON cell_whole.indicator = cell.indicator AND cell_whole.unit = cell.unit AND cell_whole.period = cell.period
    AND cell_whole.field = cell.field AND cell_whole.code = cell.code
LEFT JOIN cell_part
    ON cell_part.indicator = cell.indicator AND cell_part.unit = cell.unit AND cell_part.period = cell.period
    AND cell_part.field = cell.field AND cell_part.code = cell.code AND cell_part.part = indicator_parts.part;
