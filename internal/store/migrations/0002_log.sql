-- One growing log of JSON documents; every other table is worked out from it and
-- can be made anew (store rebuild). The tables of version 1 that held the same are
-- put aside under v1_ names, written into the log and dropped, all in one step.
DROP INDEX change_entity;
DROP INDEX change_batch;
DROP INDEX batch_source;
DROP INDEX session_dog;
DROP INDEX session_day;
DROP INDEX revision_batch;
DROP INDEX remark_incident;
DROP TRIGGER change_stays;
DROP TRIGGER change_kept;
DROP TRIGGER revision_stays;
DROP TRIGGER revision_kept;
DROP TRIGGER trial_stays;
DROP TRIGGER trial_kept;
DROP TRIGGER source_kept;
ALTER TABLE entry RENAME TO name;
ALTER TABLE change RENAME TO v1_change;
ALTER TABLE source RENAME TO v1_source;
ALTER TABLE batch RENAME TO v1_batch;
ALTER TABLE session RENAME TO v1_session;
ALTER TABLE revision RENAME TO v1_revision;
ALTER TABLE trial RENAME TO v1_trial;
ALTER TABLE correction RENAME TO v1_correction;
ALTER TABLE remark RENAME TO v1_remark;
ALTER TABLE name ADD COLUMN joined TEXT NOT NULL DEFAULT ''; -- id of the entry it was joined into

-- Who wrote: one feed for each store, whose documents are numbered 1, 2, 3.
CREATE TABLE feed (
  n      INTEGER PRIMARY KEY,
  writer TEXT NOT NULL UNIQUE,
  last   INTEGER NOT NULL, -- the highest place that is here
  site   TEXT NOT NULL DEFAULT '',
  UNIQUE (n, site)
) STRICT;

-- seq is the order of arrival here and means nothing elsewhere. id is the first 16
-- bytes of the SHA-256 of body, in hexadecimal. body is a JSON document; '' where
-- the same document stands in the log already, from another feed.
CREATE TABLE entry (
  seq   INTEGER PRIMARY KEY,
  feed  INTEGER NOT NULL,
  site  TEXT NOT NULL DEFAULT '',
  place INTEGER NOT NULL CHECK (place >= 1),
  kind  TEXT NOT NULL CHECK (kind = 'session' OR kind = 'change' OR kind = 'batch' OR kind = 'source'),
  key   TEXT NOT NULL, -- id of the session, list entry or batch; SHA-256 of the text
  batch TEXT NOT NULL, -- the batch it came with, '' = made by itself
  id    TEXT NOT NULL CHECK (length(id) = 32),
  body  TEXT NOT NULL,
  UNIQUE (feed, place),
  UNIQUE (id, feed),
  FOREIGN KEY (feed, site) REFERENCES feed (n, site)
) STRICT;
CREATE INDEX entry_kind ON entry (kind, key) WHERE kind = 'source';
CREATE TRIGGER entry_stays BEFORE UPDATE ON entry BEGIN SELECT raise(ABORT, 'a document is never rewritten'); END;
CREATE TRIGGER entry_kept BEFORE DELETE ON entry BEGIN SELECT raise(ABORT, 'a document is never removed'); END;
CREATE TRIGGER feed_kept BEFORE DELETE ON feed BEGIN SELECT raise(ABORT, 'a feed is never removed'); END;

-- Worked out from here on. n is the seq of the document.
CREATE TABLE change (
  n      INTEGER PRIMARY KEY REFERENCES entry (seq),
  id     TEXT NOT NULL,
  kind   TEXT NOT NULL,
  entity TEXT NOT NULL,
  tick   INTEGER NOT NULL, -- milliseconds UTC, never before an earlier change of the same entry
  writer TEXT NOT NULL,
  batch  TEXT NOT NULL
) STRICT;
CREATE INDEX change_entity ON change (kind, entity, tick, writer, id);
CREATE INDEX change_batch ON change (batch) WHERE batch <> '';

CREATE TABLE batch (
  n       INTEGER PRIMARY KEY REFERENCES entry (seq),
  id      TEXT NOT NULL UNIQUE,
  kind    TEXT NOT NULL,
  at      TEXT NOT NULL,
  at_ms   INTEGER NOT NULL,
  writer  TEXT NOT NULL,
  name    TEXT NOT NULL, -- file name
  source  TEXT NOT NULL, -- SHA-256 of the text, '' = none kept
  mapping TEXT NOT NULL,
  undoes  TEXT NOT NULL
) STRICT;
CREATE INDEX batch_source ON batch (source) WHERE source <> '';
CREATE INDEX batch_undoes ON batch (undoes) WHERE undoes <> '';

-- A session is a name for its revisions. shown is the one in force: the highest
-- number, then the latest time, then the writer.
CREATE TABLE session (
  n        INTEGER PRIMARY KEY,
  id       TEXT NOT NULL UNIQUE CHECK (length(id) = 36),
  shown    INTEGER NOT NULL REFERENCES revision (n), -- written first
  dog      INTEGER NOT NULL REFERENCES name (n),
  start_ms INTEGER NOT NULL,
  day      INTEGER NOT NULL, -- where it was held
  standing INTEGER NOT NULL CHECK (standing IN (0, 1)) -- 0 = voided
) STRICT;
CREATE INDEX session_dog ON session (dog, start_ms);
CREATE INDEX session_day ON session (day);

CREATE TABLE revision (
  n        INTEGER PRIMARY KEY REFERENCES entry (seq),
  id       TEXT NOT NULL, -- of the document
  session  INTEGER NOT NULL REFERENCES session (n) DEFERRABLE INITIALLY DEFERRED,
  number   INTEGER NOT NULL CHECK (number >= 1),
  writer   TEXT NOT NULL,
  at_ms    INTEGER NOT NULL,
  voided   TEXT NOT NULL, -- why it was withdrawn; '' = it stands
  parents  TEXT NOT NULL, -- ids of the revisions it was written in sight of
  batch    TEXT NOT NULL,
  content  TEXT NOT NULL, -- hash of what was said, without number, time, writer
  dog      INTEGER NOT NULL REFERENCES name (n),
  handler  INTEGER REFERENCES name (n),
  scorer   INTEGER REFERENCES name (n),
  place    INTEGER REFERENCES name (n),
  start_ms INTEGER NOT NULL,
  part     INTEGER NOT NULL,
  rescores TEXT NOT NULL,
  trials   INTEGER NOT NULL,
  UNIQUE (session, number, id)
) STRICT;
CREATE INDEX revision_batch ON revision (batch);

-- What a revision notes with "!".
CREATE TABLE noted (
  revision INTEGER NOT NULL REFERENCES revision (n),
  position INTEGER NOT NULL,
  text     TEXT NOT NULL,
  incident TEXT NOT NULL,
  PRIMARY KEY (revision, position)
) STRICT, WITHOUT ROWID;

-- A goal may name a leash state and how long a hold is to be kept, in seconds.
ALTER TABLE goal ADD COLUMN leash TEXT NOT NULL DEFAULT '';
ALTER TABLE goal ADD COLUMN hold REAL;
