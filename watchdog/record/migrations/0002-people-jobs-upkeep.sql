-- Who is told when and why, what became of each job, what people said of it, and what is due. Times as in the first script.

ALTER TABLE parcel ADD COLUMN not_before REAL;  -- a stamp: collected until then; NULL: at once
ALTER TABLE parcel ADD COLUMN loud INTEGER NOT NULL DEFAULT 0;  -- 1: by all of the person's routes at the same time
ALTER TABLE parcel ADD COLUMN why TEXT NOT NULL DEFAULT '';  -- why this person
CREATE INDEX parcel_told ON parcel (person, delivered) WHERE delivered IS NOT NULL;

CREATE TABLE salt (  -- mixed into the hash of a file's name, so that nobody finds the name by trying; never exported
    one INTEGER PRIMARY KEY CHECK (one = 1),
    hex TEXT NOT NULL
);

ALTER TABLE job ADD COLUMN name_hash TEXT;  -- of the file's name: equal names can be grouped where the name is not kept
ALTER TABLE job ADD COLUMN digest TEXT;  -- of the file's content
ALTER TABLE job ADD COLUMN active REAL;  -- s, as the next two
ALTER TABLE job ADD COLUMN held REAL;
ALTER TABLE job ADD COLUMN heating REAL;
ALTER TABLE job ADD COLUMN planned REAL;  -- s for the whole job, holds not included, as it was expected when it began
ALTER TABLE job ADD COLUMN planned_low REAL;  -- bounds of the prediction interval
ALTER TABLE job ADD COLUMN planned_high REAL;
ALTER TABLE job ADD COLUMN planned_by TEXT;
ALTER TABLE job ADD COLUMN material TEXT;
ALTER TABLE job ADD COLUMN filament_mm REAL;
ALTER TABLE job ADD COLUMN filament_g REAL;
CREATE INDEX job_ended ON job (machine, ended);
CREATE INDEX job_started ON job (machine, started);

CREATE TABLE blind_span (  -- when a machine was not seen
    id INTEGER PRIMARY KEY,
    machine TEXT NOT NULL,
    cause TEXT NOT NULL,  -- 'watch': the watch was off or asleep; 'link': the machine could not be reached
    since REAL NOT NULL,
    until REAL,  -- NULL: not seen yet
    UNIQUE (machine, cause, since)
);

CREATE TABLE label (  -- what people said; a later row corrects an earlier one, and no row is ever changed
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    kind TEXT NOT NULL,  -- 'job', 'incident', 'alarm' or 'first-layer'
    subject INTEGER,  -- id of the job, incident or alarm; NULL: its row was lost with a damaged page
    machine TEXT NOT NULL,
    subject_at REAL NOT NULL,  -- when the job began, the incident was opened, the alarm was raised
    outcome TEXT,  -- NULL, as the next ones: nothing was said of it
    cause TEXT,
    origin TEXT,
    remedy TEXT,
    note TEXT,
    usefulness TEXT,
    sheet INTEGER,  -- the build surface at an answer to 'how is the first layer', and the jobs that had begun on it before
    sheet_age INTEGER,
    by_whom TEXT NOT NULL,
    how TEXT NOT NULL,
    at REAL NOT NULL
);
CREATE INDEX label_of_subject ON label (kind, subject, id);

CREATE VIEW label_now AS  -- the latest word on each part of each subject; what is called other than failed has no cause from before
SELECT kind, subject, max(id) AS last, count(*) AS entries,
    (SELECT outcome FROM label AS l WHERE l.kind = label.kind AND l.subject = label.subject AND outcome IS NOT NULL
     ORDER BY id DESC LIMIT 1) AS outcome,
    (SELECT cause FROM label AS l WHERE l.kind = label.kind AND l.subject = label.subject AND cause IS NOT NULL
     AND id >= coalesce((SELECT max(id) FROM label AS o WHERE o.kind = label.kind AND o.subject = label.subject
     AND outcome <> 'failed'), 0) ORDER BY id DESC LIMIT 1) AS cause,
    (SELECT origin FROM label AS l WHERE l.kind = label.kind AND l.subject = label.subject AND origin IS NOT NULL
     AND id >= coalesce((SELECT max(id) FROM label AS o WHERE o.kind = label.kind AND o.subject = label.subject
     AND outcome <> 'failed'), 0) ORDER BY id DESC LIMIT 1) AS origin,
    (SELECT remedy FROM label AS l WHERE l.kind = label.kind AND l.subject = label.subject AND remedy IS NOT NULL
     ORDER BY id DESC LIMIT 1) AS remedy,
    (SELECT note FROM label AS l WHERE l.kind = label.kind AND l.subject = label.subject AND note IS NOT NULL
     ORDER BY id DESC LIMIT 1) AS note,
    (SELECT usefulness FROM label AS l WHERE l.kind = label.kind AND l.subject = label.subject AND usefulness IS NOT NULL
     ORDER BY id DESC LIMIT 1) AS usefulness
FROM label WHERE subject IS NOT NULL GROUP BY kind, subject;

CREATE TABLE upkeep (  -- what was done to a machine; what is due is counted from the last one of each item
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    machine TEXT NOT NULL,
    item TEXT NOT NULL,  -- as the settings name it
    at REAL NOT NULL,
    by_whom TEXT NOT NULL,
    note TEXT NOT NULL,
    UNIQUE (machine, item, at)
);

CREATE TABLE sheet (  -- a build surface, from its first job to its last
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    machine TEXT NOT NULL,
    started REAL NOT NULL,
    started_by TEXT NOT NULL,
    ended REAL,
    ended_by TEXT,
    why TEXT,  -- why it ended: 'worn', 'torn', 'other material' …
    note TEXT NOT NULL,
    UNIQUE (machine, started)
);

CREATE TABLE spool (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    machine TEXT NOT NULL,
    material TEXT NOT NULL,
    density REAL NOT NULL,  -- g/cm³
    diameter REAL NOT NULL,  -- mm, as noted at loading
    loaded REAL NOT NULL,
    loaded_by TEXT NOT NULL,
    unloaded REAL,
    net REAL,  -- g of filament at loading; NULL: not known
    empty REAL,  -- g of the spool without filament; NULL: not known
    note TEXT NOT NULL,
    UNIQUE (machine, loaded)
);

CREATE TABLE weighing (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    spool INTEGER NOT NULL REFERENCES spool (id),
    at REAL NOT NULL,
    by_whom TEXT NOT NULL,
    net REAL NOT NULL,  -- g of filament that were left
    note TEXT NOT NULL,
    UNIQUE (spool, at)
);

CREATE TABLE diameter (  -- measured filament
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    machine TEXT NOT NULL,
    spool INTEGER REFERENCES spool (id),
    mm REAL NOT NULL,
    at REAL NOT NULL,
    by_whom TEXT NOT NULL,
    note TEXT NOT NULL
);
CREATE INDEX weighing_of_spool ON weighing (spool, at);
CREATE INDEX diameter_of_spool ON diameter (spool, at);
