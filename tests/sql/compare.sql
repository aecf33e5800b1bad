-- SPDX-License-Identifier: GPL-3.0-or-later
-- Holds counted.csv (from a view indicator_counts) against summary.csv, both in the folder that the shell runs in.
-- Prints the rows compared and the rows that differ, then the first that do. Sums of distances may differ in the last digits
-- that are printed, all else must be equal.
.mode csv
.import summary.csv s
.import counted.csv c
CREATE INDEX s_key ON s (indicator, measure, unit, period, "group");
CREATE TEMP VIEW both_sides AS
SELECT s.indicator, s.measure, s.unit, s.period, s."group",
    s.events, c.events AS counted_events, s.total, c.total AS counted_total, s.unknown, c.unknown AS counted_unknown
FROM c
JOIN s USING (indicator, measure, unit, period)
WHERE s."group" = c.group_name;
CREATE TEMP TABLE differing AS
SELECT * FROM both_sides
WHERE (events = '') <> (counted_events = '') OR (total = '') <> (counted_total = '')
    OR CAST(events AS REAL) <> CAST(counted_events AS REAL)
    OR abs(CAST(total AS REAL) - CAST(counted_total AS REAL)) > 1e-11 * abs(CAST(total AS REAL))
    OR CAST(unknown AS REAL) <> CAST(counted_unknown AS REAL);
.mode list
.separator ' '
SELECT (SELECT count(*) FROM both_sides),
    (SELECT count(*) FROM differing)
    + abs((SELECT count(*) FROM s) - (SELECT count(*) FROM both_sides))
    + abs((SELECT count(*) FROM c) - (SELECT count(*) FROM both_sides));
.separator '|'
SELECT * FROM differing LIMIT 5;
