-- What is kept, in one paragraph. Four tables only ever grow and are all that
-- two stores exchange: change (of the kennel's lists), source (texts as they
-- came in), batch (one log, import, amendment or undo) and revision with its
-- trials, corrections and remarks. Every other table is worked out from these
-- four, so joining two stores is adding their rows.

-- This file. The writer is drawn at random when the file is made and tells
-- revisions of two laptops apart.
CREATE TABLE store (
  one     INTEGER PRIMARY KEY CHECK (one = 1),
  writer  TEXT NOT NULL CHECK (length(writer) BETWEEN 1 AND 64),
  created TEXT NOT NULL
) STRICT;

-- One change of one entry of a list. content is a JSON object that holds only
-- the fields that changed; the entry is all its changes put one over the other
-- in the order (tick, writer, id). tick is milliseconds UTC, but never before an
-- earlier change of the same entry, so a clock set back loses nothing; at is the
-- clock as it stood.
CREATE TABLE change (
  n       INTEGER PRIMARY KEY,
  id      TEXT NOT NULL UNIQUE CHECK (length(id) = 32),
  kind    TEXT NOT NULL CHECK (kind IN ('dog','handler','place','device','cue','boarding','hold','goals','words','setting','incident','closing','mapping')),
  entity  TEXT NOT NULL CHECK (entity <> ''),
  tick    INTEGER NOT NULL,
  at      TEXT NOT NULL,
  writer  TEXT NOT NULL,
  content TEXT NOT NULL CHECK (json_valid(content) AND json_type(content) = 'object'),
  said    TEXT NOT NULL, -- the change in words
  batch   TEXT NOT NULL  -- the batch it came with, '' = made by itself
) STRICT;
CREATE INDEX change_entity ON change (kind, entity, tick, writer, id);
CREATE INDEX change_batch ON change (batch) WHERE batch <> '';

-- A named thing. shown is the entry that stands for it after names were joined,
-- usually itself. Sessions refer here, so a new name needs no rewriting.
CREATE TABLE entry (
  n     INTEGER PRIMARY KEY,
  kind  TEXT NOT NULL CHECK (kind IN ('dog','handler','place','device','cue')),
  id    TEXT NOT NULL,
  name  TEXT NOT NULL CHECK (name <> ''),
  key   TEXT NOT NULL, -- name in folded case with single blanks
  shown INTEGER NOT NULL REFERENCES entry (n) DEFERRABLE INITIALLY DEFERRED,
  gone  INTEGER NOT NULL DEFAULT 0 CHECK (gone IN (0, 1)),
  UNIQUE (kind, id)
) STRICT;
CREATE INDEX entry_shown ON entry (shown);
CREATE INDEX entry_key ON entry (kind, key);
-- One name is one entry.
CREATE UNIQUE INDEX entry_one_name ON entry (kind, key) WHERE shown = n AND gone = 0 AND key <> '';

CREATE TABLE alias (
  entry    INTEGER NOT NULL REFERENCES entry (n),
  position INTEGER NOT NULL,
  name     TEXT NOT NULL,
  key      TEXT NOT NULL,
  PRIMARY KEY (entry, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE handler (
  n    INTEGER PRIMARY KEY REFERENCES entry (n),
  role TEXT NOT NULL CHECK (role IN ('trainer', 'owner', 'outsider', ''))
) STRICT;
CREATE INDEX handler_role ON handler (role);

CREATE TABLE place (
  n            INTEGER PRIMARY KEY REFERENCES entry (n),
  off_property INTEGER NOT NULL CHECK (off_property IN (0, 1))
) STRICT;

CREATE TABLE device (
  n       INTEGER PRIMARY KEY REFERENCES entry (n),
  lowest  REAL,
  highest REAL
) STRICT;

CREATE TABLE cue (
  n       INTEGER PRIMARY KEY REFERENCES entry (n),
  kind    TEXT NOT NULL CHECK (kind IN ('response', 'hold', 'motion', '')),
  signal  TEXT NOT NULL,
  "limit" REAL,
  arrive  REAL,
  target  REAL,
  breaks  REAL,
  ends    TEXT NOT NULL,
  meaning TEXT NOT NULL
) STRICT;

CREATE TABLE dog (
  n           INTEGER PRIMARY KEY REFERENCES entry (n),
  born        INTEGER, -- days since 1970-01-01, as every day below
  reward_only INTEGER NOT NULL CHECK (reward_only IN (0, 1)),
  consent     TEXT NOT NULL,
  device      INTEGER REFERENCES entry (n),
  main        INTEGER REFERENCES entry (n) -- main trainer
) STRICT;

-- An owner is a handler of the list or just a name.
CREATE TABLE dog_owner (
  dog      INTEGER NOT NULL REFERENCES entry (n),
  position INTEGER NOT NULL,
  handler  INTEGER REFERENCES entry (n),
  name     TEXT NOT NULL,
  PRIMARY KEY (dog, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE boarding (
  id      TEXT PRIMARY KEY,
  dog     INTEGER NOT NULL REFERENCES entry (n),
  arrived INTEGER,
  due     INTEGER,
  home    INTEGER,
  wishes  TEXT NOT NULL,
  ready   INTEGER CHECK (ready IN (0, 1)) -- as judged when the dog went home, NULL = not judged
) STRICT, WITHOUT ROWID;
CREATE INDEX boarding_dog ON boarding (dog);
-- Who is here on a day, without a look at the dogs long gone home.
CREATE INDEX boarding_here ON boarding (coalesce(home, 9999999), arrived);
-- The kennel's base rate, without a look at the stays themselves.
CREATE INDEX boarding_judged ON boarding (home, ready) WHERE ready IS NOT NULL;

CREATE TABLE hold (
  id          TEXT PRIMARY KEY,
  dog         INTEGER NOT NULL REFERENCES entry (n),
  first_day   INTEGER,
  last_day    INTEGER,
  reason      TEXT NOT NULL,
  no_collar   INTEGER NOT NULL CHECK (no_collar IN (0, 1)),
  collar_only INTEGER NOT NULL CHECK (collar_only IN (0, 1))
) STRICT, WITHOUT ROWID;
CREATE INDEX hold_dog ON hold (dog);

CREATE TABLE hold_cue (
  hold     TEXT NOT NULL REFERENCES hold (id),
  position INTEGER NOT NULL,
  cue      INTEGER NOT NULL REFERENCES entry (n),
  PRIMARY KEY (hold, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE goal (
  dog          INTEGER NOT NULL REFERENCES entry (n),
  position     INTEGER NOT NULL,
  cue          INTEGER REFERENCES entry (n),
  place        INTEGER REFERENCES entry (n),
  place_name   TEXT NOT NULL, -- where it is no place of the list
  distraction  REAL,
  handler      INTEGER REFERENCES entry (n),
  handler_name TEXT NOT NULL, -- where it is nobody of the list
  bar          REAL CHECK (bar BETWEEN 0 AND 1),
  words        TEXT NOT NULL,
  PRIMARY KEY (dog, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE cue_word (
  dog      INTEGER NOT NULL REFERENCES entry (n),
  position INTEGER NOT NULL,
  cue      INTEGER NOT NULL REFERENCES entry (n),
  word     TEXT NOT NULL,
  signal   TEXT NOT NULL,
  ends     TEXT NOT NULL,
  PRIMARY KEY (dog, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE setting (
  id    TEXT PRIMARY KEY,
  dog   INTEGER REFERENCES entry (n),
  cue   INTEGER REFERENCES entry (n),
  name  TEXT NOT NULL CHECK (name <> ''),
  value REAL NOT NULL
) STRICT, WITHOUT ROWID;

-- An incident entered by itself; those of a note are remarks.
CREATE TABLE incident (
  id   TEXT PRIMARY KEY,
  dog  INTEGER NOT NULL REFERENCES entry (n),
  day  INTEGER NOT NULL,
  text TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX incident_dog ON incident (dog);

-- How an incident was dealt with, whichever way it came in.
CREATE TABLE closing (
  incident TEXT PRIMARY KEY,
  closed   INTEGER,
  outcome  TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Column names of a spreadsheet, remembered under a name.
CREATE TABLE mapping (
  id   TEXT PRIMARY KEY,
  name TEXT NOT NULL,
  text TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- A note or file as it came in, byte for byte, kept once.
CREATE TABLE source (
  hash TEXT PRIMARY KEY CHECK (length(hash) = 64),
  text BLOB NOT NULL
) STRICT, WITHOUT ROWID;

-- One log, import, amendment, withdrawal or undo.
CREATE TABLE batch (
  n       INTEGER PRIMARY KEY,
  id      TEXT NOT NULL UNIQUE,
  kind    TEXT NOT NULL CHECK (kind IN ('log', 'import', 'amend', 'void', 'unvoid', 'undo')),
  at      TEXT NOT NULL,
  writer  TEXT NOT NULL,
  name    TEXT NOT NULL, -- file name
  source  TEXT REFERENCES source (hash) DEFERRABLE INITIALLY DEFERRED,
  mapping TEXT NOT NULL,
  undoes  TEXT,
  here    INTEGER NOT NULL DEFAULT 1 CHECK (here IN (0, 1)) -- made in this file, not merged in
) STRICT;
CREATE INDEX batch_source ON batch (source);

-- A session is a name for its revisions. shown is the one in force: the highest
-- number, then the latest time, then the writer. dog, start_ms, day and
-- standing repeat it, so that one dog or one day is found without a look at the others.
CREATE TABLE session (
  n        INTEGER PRIMARY KEY,
  id       TEXT NOT NULL UNIQUE CHECK (length(id) = 36),
  shown    INTEGER NOT NULL REFERENCES revision (n), -- written first
  dog      INTEGER NOT NULL REFERENCES entry (n) DEFERRABLE INITIALLY DEFERRED,
  start_ms INTEGER NOT NULL,
  day      INTEGER NOT NULL, -- where it was held
  standing INTEGER NOT NULL CHECK (standing IN (0, 1)) -- 0 = voided
) STRICT;
CREATE INDEX session_dog ON session (dog, start_ms);
CREATE INDEX session_day ON session (day);

-- A list of more than two values in a CHECK, written with IN, makes SQLite fill a
-- table in memory for every row that is inserted: half the time of an import.
-- With OR it compares until one fits.
CREATE TABLE revision (
  n             INTEGER PRIMARY KEY,
  id            TEXT NOT NULL CHECK (length(id) = 32), -- hash of the whole
  session       INTEGER NOT NULL REFERENCES session (n) DEFERRABLE INITIALLY DEFERRED,
  number        INTEGER NOT NULL CHECK (number >= 1),
  writer        TEXT NOT NULL,
  at            TEXT NOT NULL,
  at_ms         INTEGER NOT NULL,
  why           TEXT NOT NULL,
  voided        TEXT NOT NULL, -- why it was withdrawn; '' = it stands
  parents       TEXT NOT NULL, -- ids of the revisions it was written in sight of
  batch         TEXT NOT NULL REFERENCES batch (id) DEFERRABLE INITIALLY DEFERRED,
  content       TEXT NOT NULL, -- hash of what was said, without number, time, writer
  dog           INTEGER NOT NULL REFERENCES entry (n) DEFERRABLE INITIALLY DEFERRED,
  handler       INTEGER REFERENCES entry (n) DEFERRABLE INITIALLY DEFERRED,
  scorer        INTEGER REFERENCES entry (n) DEFERRABLE INITIALLY DEFERRED,
  start         TEXT NOT NULL, -- RFC 3339 with the offset it was written in
  start_ms      INTEGER NOT NULL,
  zone          TEXT NOT NULL,
  part          INTEGER NOT NULL CHECK (part >= 0),
  place         INTEGER REFERENCES entry (n) DEFERRABLE INITIALLY DEFERRED,
  leash         TEXT NOT NULL,
  distraction   REAL CHECK (distraction BETWEEN 0 AND 4),
  device        INTEGER REFERENCES entry (n) DEFERRABLE INITIALLY DEFERRED,
  working_level REAL,
  weather       TEXT NOT NULL,
  reward        TEXT NOT NULL,
  source        TEXT NOT NULL CHECK (source = 'live' OR source = 'video' OR source = 'memory' OR source = ''),
  baseline      INTEGER NOT NULL CHECK (baseline IN (0, 1)),
  note          TEXT NOT NULL, -- word for word
  carried       TEXT NOT NULL,
  rescores      TEXT, -- id of the session this is a second scoring of
  -- Two laptops may both write revision 2, and so may a copied file: the hash
  -- keeps them apart. It stands last because an index on hashes alone is spread
  -- over the whole file and slows an import down.
  UNIQUE (session, number, id)
) STRICT;
CREATE INDEX revision_batch ON revision (batch);

CREATE TABLE trial (
  revision    INTEGER NOT NULL REFERENCES revision (n),
  position    INTEGER NOT NULL CHECK (position >= 0),
  cue         INTEGER NOT NULL REFERENCES entry (n) DEFERRABLE INITIALLY DEFERRED,
  kind        TEXT NOT NULL CHECK (kind = 'response' OR kind = 'hold' OR kind = 'motion'),
  signal      TEXT NOT NULL,
  outcome     TEXT NOT NULL CHECK (outcome = 'answered' OR outcome = 'refused' OR outcome = 'held' OR outcome = 'broke' OR outcome = 'released' OR outcome = 'walked' OR outcome = 'counted' OR outcome = 'unscored' OR outcome = 'early' OR outcome = 'already'),
  asks        INTEGER NOT NULL CHECK (asks >= 0),
  did         TEXT,
  latency     REAL CHECK (latency >= 0),    -- seconds, as every duration below
  completion  REAL CHECK (completion >= 0),
  waited      REAL CHECK (waited >= 0),
  begun       REAL CHECK (begun >= 0),
  prompts     TEXT,                         -- JSON list
  corrections INTEGER NOT NULL CHECK (corrections >= 0),
  highest     REAL,                         -- level, of those on the device named here
  last        REAL,
  device      INTEGER REFERENCES entry (n) DEFERRABLE INITIALLY DEFERRED,
  target      REAL CHECK (target >= 0),
  held        REAL CHECK (held >= 0),
  walked      REAL CHECK (walked >= 0),
  breaks      INTEGER NOT NULL CHECK (breaks >= 0),
  distance    REAL CHECK (distance >= 0),   -- metres
  yes         INTEGER CHECK (yes >= 0),     -- tally: yes of tried
  tried       INTEGER CHECK (tried >= yes),
  at          REAL,
  marks       TEXT NOT NULL,
  line        INTEGER NOT NULL,
  PRIMARY KEY (revision, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE correction (
  revision INTEGER NOT NULL,
  position INTEGER NOT NULL,
  turn     INTEGER NOT NULL,
  kind     TEXT NOT NULL CHECK (kind = 'leash' OR kind = 'verbal' OR kind = 'collar'),
  level    REAL,
  device   INTEGER REFERENCES entry (n) DEFERRABLE INITIALLY DEFERRED,
  served   INTEGER NOT NULL CHECK (served IN (0, 1)),
  PRIMARY KEY (revision, position, turn),
  FOREIGN KEY (revision, position) REFERENCES trial (revision, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE remark (
  revision INTEGER NOT NULL REFERENCES revision (n),
  position INTEGER NOT NULL,
  text     TEXT NOT NULL,
  line     INTEGER NOT NULL,
  incident TEXT, -- id of the incident; NULL = a plain remark
  PRIMARY KEY (revision, position)
) STRICT, WITHOUT ROWID;
CREATE INDEX remark_incident ON remark (incident) WHERE incident IS NOT NULL;

-- Notes kept by log --keep. They stay in this file.
CREATE TABLE draft (
  n    INTEGER PRIMARY KEY,
  name TEXT NOT NULL,
  at   TEXT NOT NULL,
  text BLOB NOT NULL
) STRICT;

-- Nothing that was kept is changed or taken away, by this program or any other
-- that opens the file politely.
CREATE TRIGGER change_stays BEFORE UPDATE ON change BEGIN SELECT raise(ABORT, 'a change is never rewritten'); END;
CREATE TRIGGER change_kept BEFORE DELETE ON change BEGIN SELECT raise(ABORT, 'a change is never removed'); END;
CREATE TRIGGER revision_stays BEFORE UPDATE ON revision BEGIN SELECT raise(ABORT, 'a revision is never rewritten'); END;
CREATE TRIGGER revision_kept BEFORE DELETE ON revision BEGIN SELECT raise(ABORT, 'a revision is never removed'); END;
CREATE TRIGGER trial_stays BEFORE UPDATE ON trial BEGIN SELECT raise(ABORT, 'a trial is never rewritten'); END;
CREATE TRIGGER trial_kept BEFORE DELETE ON trial BEGIN SELECT raise(ABORT, 'a trial is never removed'); END;
CREATE TRIGGER source_kept BEFORE DELETE ON source BEGIN SELECT raise(ABORT, 'a source is never removed'); END;

PRAGMA application_id = 1179861845; -- "FSCU"
