-- Every row carries its run, the monotonic time (milliseconds since that boot) and the wall time in UTC
-- (milliseconds since 1970, NULL until the clock is set). Durations are differences of mono_ms within one
-- boot; wall_ms is for people and may jump.

CREATE TABLE runs (
    run_id          INTEGER PRIMARY KEY,
    boot_id         TEXT    NOT NULL,
    started_mono_ms INTEGER NOT NULL
);
CREATE INDEX runs_boot ON runs (boot_id);

-- Probe names in the order of the values; one row for every set of probes there ever was.
CREATE TABLE probe_sets (
    set_id INTEGER PRIMARY KEY,
    names  TEXT NOT NULL UNIQUE            -- JSON array
);

-- One row per time. milli_c is a JSON array in the order of the set: thousandths of a degree Celsius, or in
-- its place the word that says why there is no value. span_s is 0 for a sample, 3600 for an hourly mean.
CREATE TABLE readings (
    reading_id INTEGER PRIMARY KEY,
    run_id     INTEGER NOT NULL REFERENCES runs,
    mono_ms    INTEGER NOT NULL,
    wall_ms    INTEGER,
    span_s     INTEGER NOT NULL DEFAULT 0,
    set_id     INTEGER NOT NULL REFERENCES probe_sets,
    milli_c    TEXT    NOT NULL
);
CREATE INDEX readings_wall ON readings (wall_ms);

CREATE TABLE changes (
    change_id INTEGER PRIMARY KEY,
    run_id    INTEGER NOT NULL REFERENCES runs,
    mono_ms   INTEGER NOT NULL,
    wall_ms   INTEGER,
    kind      TEXT    NOT NULL,            -- fan or pump
    name      TEXT    NOT NULL,            -- loop or sump
    is_on     INTEGER NOT NULL CHECK (is_on IN (0, 1)),
    code      TEXT    NOT NULL,
    numbers   TEXT    NOT NULL,            -- JSON object, SI, unit in the name
    sentence  TEXT    NOT NULL
);
CREATE INDEX changes_wall ON changes (wall_ms);

CREATE TABLE alarms (
    alarm_id INTEGER PRIMARY KEY,
    run_id   INTEGER NOT NULL REFERENCES runs,
    mono_ms  INTEGER NOT NULL,
    wall_ms  INTEGER,
    code     TEXT    NOT NULL,
    subject  TEXT    NOT NULL,
    priority INTEGER NOT NULL,
    raised   INTEGER NOT NULL CHECK (raised IN (0, 1)),
    detail   TEXT    NOT NULL
);
CREATE INDEX alarms_wall ON alarms (wall_ms);

CREATE TABLE events (
    event_id INTEGER PRIMARY KEY,
    run_id   INTEGER NOT NULL REFERENCES runs,
    mono_ms  INTEGER NOT NULL,
    wall_ms  INTEGER,
    code     TEXT    NOT NULL,
    detail   TEXT    NOT NULL
);
CREATE INDEX events_wall ON events (wall_ms);

-- Sums of a day as far as one run saw it; a day with a restart in it has several rows. The row of a day that
-- is not over yet has finished = 0 and is replaced as the day goes on.
CREATE TABLE days (
    day_id       INTEGER PRIMARY KEY,
    run_id       INTEGER NOT NULL REFERENCES runs,
    mono_ms      INTEGER NOT NULL,
    wall_ms      INTEGER,
    date         TEXT,                     -- ISO date, as the tally has it; NULL where the clock was not set
    finished     INTEGER NOT NULL CHECK (finished IN (0, 1)),
    covered_s    REAL    NOT NULL,
    air_min_c    REAL,
    air_max_c    REAL
);
CREATE INDEX days_wall ON days (wall_ms);

CREATE TABLE day_loops (
    day_id        INTEGER NOT NULL REFERENCES days ON DELETE CASCADE,
    name          TEXT    NOT NULL,
    run_s         REAL    NOT NULL,
    starts        INTEGER NOT NULL,
    electricity_j REAL    NOT NULL,
    banked_j      REAL    NOT NULL,
    returned_j    REAL    NOT NULL,
    PRIMARY KEY (day_id, name)
) WITHOUT ROWID;

CREATE TABLE day_pumps (
    day_id        INTEGER NOT NULL REFERENCES days ON DELETE CASCADE,
    name          TEXT    NOT NULL,
    run_s         REAL    NOT NULL,
    starts        INTEGER NOT NULL,
    electricity_j REAL    NOT NULL,
    PRIMARY KEY (day_id, name)
) WITHOUT ROWID;
