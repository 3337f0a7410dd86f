-- Views for people who ask the history with plain SQL: times as ISO 8601 in UTC, SI units in the names. Export
-- writes tables of the same names and columns, but for wall_ms: milliseconds since 1970, which is there because it
-- is indexed, so that a range of it is found at once. config/evidence/keeping.md explains each column.

CREATE VIEW temperatures AS
SELECT
    strftime('%Y-%m-%dT%H:%M:%SZ', r.wall_ms / 1000, 'unixepoch') AS at_utc,
    json_extract(s.names, '$[' || v.key || ']') AS probe,
    CASE v.type WHEN 'integer' THEN v.value / 1000.0 END AS temperature_c,
    CASE
        WHEN v.type = 'integer' THEN NULL
        ELSE CASE v.value
            WHEN 'NOT_FITTED' THEN 'is not fitted'
            WHEN 'NEVER_READ' THEN 'has not been read yet'
            WHEN 'SILENT' THEN 'does not answer'
            WHEN 'NOISY' THEN 'answers with damaged data'
            WHEN 'POWER_ON' THEN 'gives its power-on value (85 °C) instead of a measurement'
            WHEN 'NO_POWER' THEN 'reports too little supply power to measure'
            WHEN 'ALL_ZERO' THEN 'answers with nothing but zeros (data line shorted?)'
            WHEN 'OUT_OF_RANGE' THEN 'reads a temperature that its place cannot have'
            WHEN 'JUMP' THEN 'jumps further than air or soil can change'
            WHEN 'STUCK' THEN 'shows the same value while the others change'
            WHEN 'STALE' THEN 'has given nothing new for too long'
            WHEN 'OUTVOTED' THEN 'disagrees with the other probes of its place'
            ELSE 'cannot be read'
        END
    END AS missing_because,
    r.span_s AS averaged_over_s,
    r.wall_ms
FROM readings AS r
JOIN probe_sets AS s ON s.set_id = r.set_id AND json_valid(s.names)
JOIN json_each(CASE WHEN json_valid(r.milli_c) THEN r.milli_c ELSE '[]' END) AS v
WHERE r.wall_ms IS NOT NULL;

CREATE VIEW switchings AS
SELECT
    strftime('%Y-%m-%dT%H:%M:%SZ', wall_ms / 1000, 'unixepoch') AS at_utc,
    kind, name, is_on, code AS reason, sentence, numbers, wall_ms
FROM changes
WHERE wall_ms IS NOT NULL;

CREATE VIEW alarm_log AS
SELECT
    strftime('%Y-%m-%dT%H:%M:%SZ', wall_ms / 1000, 'unixepoch') AS at_utc,
    code, subject,
    CASE priority WHEN 1 THEN 'act now' WHEN 2 THEN 'today' WHEN 3 THEN 'this week' ELSE '' END AS urgency,
    raised, detail, wall_ms
FROM alarms
WHERE wall_ms IS NOT NULL;

CREATE VIEW event_log AS
SELECT strftime('%Y-%m-%dT%H:%M:%SZ', wall_ms / 1000, 'unixepoch') AS at_utc, code, detail, wall_ms
FROM events
WHERE wall_ms IS NOT NULL;

-- A day whose clock was set only later counts for the date on which it was written down; the runs of a day add up.
CREATE VIEW daily_loops AS
SELECT
    coalesce(d.date, date(d.wall_ms / 1000, 'unixepoch')) AS date,
    l.name AS loop,
    round(sum(l.run_s), 1) AS run_s,
    sum(l.starts) AS starts,
    round(sum(l.electricity_j), 1) AS electricity_j,
    round(sum(l.banked_j), 1) AS banked_j,
    round(sum(l.returned_j), 1) AS returned_j
FROM days AS d
JOIN day_loops AS l ON l.day_id = d.day_id
WHERE coalesce(d.date, d.wall_ms) IS NOT NULL
GROUP BY 1, 2;

CREATE VIEW daily_pumps AS
SELECT
    coalesce(d.date, date(d.wall_ms / 1000, 'unixepoch')) AS date,
    p.name AS sump,
    round(sum(p.run_s), 1) AS run_s,
    sum(p.starts) AS starts,
    round(sum(p.electricity_j), 1) AS electricity_j
FROM days AS d
JOIN day_pumps AS p ON p.day_id = d.day_id
WHERE coalesce(d.date, d.wall_ms) IS NOT NULL
GROUP BY 1, 2;

CREATE VIEW daily AS
SELECT
    coalesce(d.date, date(d.wall_ms / 1000, 'unixepoch')) AS date,
    round(sum(d.covered_s), 1) AS covered_s,
    min(d.air_min_c) AS air_min_c,
    max(d.air_max_c) AS air_max_c,
    CASE WHEN min(d.air_min_c) IS NULL THEN 'no air probe could be read' END AS missing_because,
    round(coalesce(sum(l.electricity_j), 0.0) + coalesce(sum(p.electricity_j), 0.0), 1) AS electricity_j,
    round(coalesce(sum(l.banked_j), 0.0), 1) AS banked_j,
    round(coalesce(sum(l.returned_j), 0.0), 1) AS returned_j
FROM days AS d
LEFT JOIN (
    SELECT day_id, sum(electricity_j) AS electricity_j, sum(banked_j) AS banked_j, sum(returned_j) AS returned_j
    FROM day_loops GROUP BY day_id
) AS l ON l.day_id = d.day_id
LEFT JOIN (SELECT day_id, sum(electricity_j) AS electricity_j FROM day_pumps GROUP BY day_id) AS p
    ON p.day_id = d.day_id
WHERE coalesce(d.date, d.wall_ms) IS NOT NULL
GROUP BY 1;
