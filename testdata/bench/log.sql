-- One session of twenty trials, as firstcue log stores it, into the same tables
-- with the same promises: references checked, on the disk when it returns.
PRAGMA foreign_keys = 1;
PRAGMA synchronous = EXTRA;
BEGIN IMMEDIATE;
CREATE TEMP TABLE this AS SELECT (SELECT max(n) FROM session) + 1 AS s, (SELECT max(n) FROM revision) + 1 AS r, lower(hex(randomblob(16))) AS id,
  (SELECT n FROM entry WHERE kind = 'dog' AND key = 'barric 0') AS dog, (SELECT n FROM entry WHERE kind = 'handler' AND key = 'tove') AS handler,
  (SELECT n FROM entry WHERE kind = 'place' AND key = 'paddock') AS place, (SELECT n FROM entry WHERE kind = 'cue' AND key = 'sit') AS cue;
INSERT INTO source (hash, text) SELECT id || id, CAST('dog: Barric 0' AS BLOB) FROM this;
INSERT INTO batch (id, kind, at, writer, name, source, mapping) SELECT id, 'log', '2026-03-20T20:00:00Z', 'shell', 'note.txt', id || id, '' FROM this;
INSERT INTO revision (n, id, session, number, writer, at, at_ms, why, voided, parents, batch, content, dog, handler, start, start_ms, zone, part, place, leash,
    distraction, weather, reward, source, baseline, note, carried)
  SELECT r, id, s, 1, 'shell', '2026-03-20T20:00:00Z', 1774036800000, '', '', '', id, id, dog, handler, '2026-03-20T10:00:00Z', 1774000800000 + s, '', 0, place, 'off',
    2, '', '', 'memory', 0, 'dog: Barric 0', '' FROM this;
INSERT INTO session (n, id, shown, dog, start_ms, day, standing)
  SELECT s, substr(id, 1, 8) || '-' || substr(id, 9, 4) || '-' || substr(id, 13, 4) || '-' || substr(id, 17, 4) || '-' || substr(id, 21), r, dog, 1774000800000 + s, 20532, 1 FROM this;
WITH RECURSIVE i(n) AS (VALUES (0) UNION ALL SELECT n + 1 FROM i WHERE n < 19)
INSERT INTO trial (revision, position, cue, kind, signal, outcome, asks, latency, corrections, breaks, marks, line)
  SELECT r, i.n, cue, 'response', '', 'answered', 1, NULL, 0, 0, 'sit 20+', i.n + 4 FROM this, i;
COMMIT;
