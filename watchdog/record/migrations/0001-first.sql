-- Stamps are s since 1970-01-01T00:00Z, for people; elapsed is s on the clock that never steps back, for durations and windows.

CREATE TABLE moment (  -- the last commit: blind time and the elapsed clock go on from here after a restart
    one INTEGER PRIMARY KEY CHECK (one = 1),
    elapsed REAL NOT NULL,
    stamp REAL NOT NULL
);

CREATE TABLE world (  -- what is remembered of a machine, frozen
    machine TEXT PRIMARY KEY,
    json TEXT NOT NULL,
    elapsed REAL NOT NULL,
    stamp REAL NOT NULL
);

CREATE TABLE incident (
    id INTEGER PRIMARY KEY AUTOINCREMENT,  -- a number that people type; never used twice
    machine TEXT NOT NULL,
    opened REAL NOT NULL,  -- the first alarm was raised
    opened_elapsed REAL NOT NULL,
    quiet REAL,  -- the last alarm returned; NULL while one is present
    quiet_elapsed REAL,
    lines INTEGER NOT NULL DEFAULT 0,
    lines_dropped INTEGER NOT NULL DEFAULT 0,
    readings INTEGER NOT NULL DEFAULT 0,
    readings_dropped INTEGER NOT NULL DEFAULT 0
);
CREATE INDEX incident_of_machine ON incident (machine, id);

CREATE TABLE alarm (  -- one occurrence of one alarm
    id INTEGER PRIMARY KEY,
    incident INTEGER NOT NULL REFERENCES incident (id),
    machine TEXT NOT NULL,
    name TEXT NOT NULL,
    occurrence INTEGER NOT NULL,
    priority TEXT NOT NULL,
    evidence TEXT NOT NULL,
    raised REAL NOT NULL,
    raised_elapsed REAL NOT NULL,
    acknowledged REAL,
    acknowledged_by TEXT,
    acknowledged_how TEXT,
    returned REAL,  -- the condition has gone
    cleared REAL,
    let_go REAL,  -- it ended unseen: the watch lost its memory of it, or it was raised afresh
    UNIQUE (machine, name, occurrence, raised)  -- with the stamp: a watch that lost its memory counts from 1 again
);
CREATE INDEX alarm_of_incident ON alarm (incident);
CREATE INDEX alarm_standing ON alarm (machine, name) WHERE cleared IS NULL AND let_go IS NULL;

CREATE TABLE transition (
    id INTEGER PRIMARY KEY,
    alarm INTEGER REFERENCES alarm (id),  -- NULL: no such occurrence is known here (an alarm shelved before it was raised)
    machine TEXT NOT NULL,
    name TEXT NOT NULL,
    occurrence INTEGER NOT NULL,
    transition TEXT NOT NULL,
    priority TEXT NOT NULL,
    evidence TEXT NOT NULL,
    by_whom TEXT,
    how TEXT,
    note TEXT,
    elapsed REAL NOT NULL,
    stamp REAL NOT NULL,
    UNIQUE (machine, name, occurrence, transition, elapsed, stamp)
);
CREATE INDEX transition_of_alarm ON transition (alarm);
CREATE INDEX transition_in_time ON transition (stamp);

CREATE TABLE state_change (
    id INTEGER PRIMARY KEY,
    machine TEXT NOT NULL,
    axis TEXT NOT NULL,
    before TEXT NOT NULL,
    after TEXT NOT NULL,
    elapsed REAL NOT NULL,
    stamp REAL NOT NULL,
    UNIQUE (machine, elapsed, axis, before, after, stamp)
);
CREATE INDEX state_change_in_time ON state_change (stamp);

CREATE TABLE job (
    id INTEGER PRIMARY KEY,
    machine TEXT NOT NULL,
    number INTEGER NOT NULL,
    file TEXT,
    size INTEGER,
    origin TEXT NOT NULL,
    started REAL NOT NULL,
    ended REAL,
    ending TEXT,
    why TEXT,
    seconds REAL,  -- from start to end, holds included
    holds INTEGER NOT NULL DEFAULT 0
);
CREATE INDEX job_of_machine ON job (machine, number);
CREATE INDEX job_in_time ON job (started);

CREATE TABLE job_change (
    id INTEGER PRIMARY KEY,
    job INTEGER NOT NULL REFERENCES job (id),
    machine TEXT NOT NULL,
    event TEXT NOT NULL,
    since_start REAL NOT NULL,  -- s
    why TEXT,
    elapsed REAL NOT NULL,
    stamp REAL NOT NULL,
    UNIQUE (job, event, elapsed, stamp)
);
CREATE INDEX job_change_of_machine ON job_change (machine, elapsed);
CREATE INDEX job_change_in_time ON job_change (stamp);

CREATE TABLE noted (
    id INTEGER PRIMARY KEY,
    machine TEXT NOT NULL,
    kind TEXT NOT NULL,
    facts TEXT NOT NULL,
    elapsed REAL NOT NULL,
    stamp REAL NOT NULL,
    UNIQUE (machine, elapsed, kind, facts, stamp)
);
CREATE INDEX noted_in_time ON noted (stamp);

CREATE TABLE parcel (  -- the outbox, and afterwards the history of who was told what and when
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    incident INTEGER REFERENCES incident (id),
    machine TEXT NOT NULL,
    alarm TEXT NOT NULL,
    occurrence INTEGER NOT NULL,
    kind TEXT NOT NULL,
    nth INTEGER NOT NULL,
    person TEXT NOT NULL,
    priority TEXT NOT NULL,
    evidence TEXT NOT NULL,
    at REAL NOT NULL,
    at_elapsed REAL NOT NULL,
    since REAL NOT NULL,
    since_elapsed REAL NOT NULL,
    next_at REAL,
    created REAL NOT NULL,
    next_try REAL,  -- a stamp; NULL: not tried yet, so due whatever the clock says
    delivered REAL,
    given_up REAL,
    given_up_why TEXT,
    UNIQUE (machine, alarm, occurrence, kind, nth, person, at)  -- with its time, as for the alarm: rather twice than never
);
CREATE INDEX parcel_waiting ON parcel (id) WHERE delivered IS NULL AND given_up IS NULL;
CREATE INDEX parcel_of_incident ON parcel (incident);

CREATE TABLE attempt (
    id INTEGER PRIMARY KEY,
    parcel INTEGER NOT NULL REFERENCES parcel (id),
    route TEXT NOT NULL,
    stamp REAL NOT NULL,
    outcome TEXT NOT NULL,
    detail TEXT NOT NULL,
    UNIQUE (parcel, route, stamp, outcome)
);

CREATE TABLE raw_line (
    incident INTEGER NOT NULL REFERENCES incident (id),
    elapsed REAL NOT NULL,
    number INTEGER NOT NULL,
    stamp REAL NOT NULL,
    direction TEXT NOT NULL,
    text TEXT NOT NULL,
    PRIMARY KEY (incident, elapsed, number)
) WITHOUT ROWID;

CREATE TABLE reading (
    incident INTEGER NOT NULL REFERENCES incident (id),
    elapsed REAL NOT NULL,
    number INTEGER NOT NULL,
    stamp REAL NOT NULL,
    nozzle REAL,  -- °C, as all four
    nozzle_target REAL,
    bed REAL,
    bed_target REAL,
    progress REAL,
    PRIMARY KEY (incident, elapsed, number)
) WITHOUT ROWID;

CREATE TABLE machine (  -- only so that a minute row holds a small number instead of a name
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE
);

CREATE TABLE telemetry (  -- a minute a row, kept for good; temperatures in tenths of °C
    machine INTEGER NOT NULL REFERENCES machine (id),
    minute INTEGER NOT NULL,  -- stamp / 60
    nozzle_low INTEGER,
    nozzle_sum INTEGER,
    nozzle_high INTEGER,
    nozzle_count INTEGER NOT NULL,
    nozzle_target INTEGER,  -- the highest of the minute, as the bed's
    bed_low INTEGER,
    bed_sum INTEGER,
    bed_high INTEGER,
    bed_count INTEGER NOT NULL,
    bed_target INTEGER,
    progress REAL,  -- the last of the minute
    PRIMARY KEY (machine, minute)
) WITHOUT ROWID;
