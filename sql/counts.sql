-- SPDX-License-Identifier: GPL-3.0-or-later
-- The counts of every indicator, unit, period and group: the same rows, with the same numbers, as the table estimates. They are
-- counted from the records each time. PostgreSQL takes this view as it is.
CREATE VIEW indicator_counts AS
WITH quantile AS (
    SELECT 'quantile' AS measure, 'p25' AS name
    UNION ALL SELECT 'quantile', 'median'
    UNION ALL SELECT 'quantile', 'p75'
    UNION ALL SELECT 'quantile', 'p90'
)
SELECT
    indicator_cells.indicator,
    coalesce(quantile.name, catalogue.measure) AS measure,
    indicator_cells.unit,
    indicator_cells.period,
    CASE
        WHEN indicator_cells.field = 'all' AND catalogue.mix_field IS NULL THEN 'all'
        WHEN indicator_cells.field = 'all' THEN ''
        WHEN indicator_cells.code = '' THEN indicator_cells.field || '=unknown'
        ELSE indicator_cells.field || '=' || indicator_cells.code
    END
    || CASE WHEN indicator_cells.field <> 'all' AND catalogue.mix_field IS NOT NULL THEN ' & ' ELSE '' END
    || coalesce(catalogue.mix_field || '=' || indicator_cells.part, '') AS group_name,
    CASE WHEN catalogue.measure <> 'quantile' THEN indicator_cells.events END AS events,
    CASE
        WHEN catalogue.measure IN ('count', 'hours', 'overlap') THEN NULL
        WHEN catalogue.exposure = 'weeks' THEN periods.days / 7.0
        WHEN catalogue.exposure = 'hours' THEN indicator_cells.minutes / 60.0 -- whole minutes add up exactly
        ELSE indicator_cells.total
    END AS total,
    indicator_cells.unknown
FROM indicator_cells
JOIN catalogue ON catalogue.indicator = indicator_cells.indicator
JOIN periods ON periods.period = indicator_cells.period
LEFT JOIN quantile ON quantile.measure = catalogue.measure;
