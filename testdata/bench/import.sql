-- What a person would do in the shell with the same file: read it as it is, then
-- put it into the same tables. It does less than firstcue import: nothing is
-- checked beforehand, there is no hash of what was said (random bytes stand for
-- it), no look whether a session is there already.
PRAGMA foreign_keys = 1;
PRAGMA synchronous = EXTRA;
.import --csv --schema temp trials.csv raw
BEGIN IMMEDIATE;
-- CROSS JOIN keeps SQLite from another order of the tables, which took more than ten minutes.
CREATE TEMP TABLE cell AS SELECT rowid AS at, *,
    cue || CASE WHEN response = 'no' THEN ' -' WHEN level <> '' THEN ' - @' || level || ' +' WHEN asks = '2' THEN ' - +' ELSE ' +' || latency END AS marks
  FROM raw;
CREATE TEMP TABLE one AS SELECT row_number() OVER (ORDER BY min(at)) AS n, min(at) AS first, dog, start, handler, place, leash, distraction, device,
    lower(hex(randomblob(16))) AS hash, unixepoch(start) * 1000 AS ms,
    'dog: ' || dog || '; handler: ' || handler || char(10) || 'start: ' || start || '; place: ' || place || '; leash: ' || leash || '; distraction: ' || distraction
      || char(10) || 'device: ' || device || char(10, 10) || group_concat(marks, char(10)) AS note
  FROM cell GROUP BY dog, start;
CREATE UNIQUE INDEX temp.one_key ON one (dog, start);
INSERT INTO batch (id, kind, at, writer, name, mapping) VALUES ('shell', 'import', '2026-03-20T20:00:00Z', 'shell', 'trials.csv', '');
INSERT INTO revision (n, id, session, number, writer, at, at_ms, why, voided, parents, batch, content, dog, handler, start, start_ms, zone, part, place, leash,
    distraction, device, weather, reward, source, baseline, note, carried)
  SELECT o.n, o.hash, o.n, 1, 'shell', '2026-03-20T20:00:00Z', 1774036800000, '', '', '', 'shell', o.hash, d.n, h.n, o.start, o.ms, '', 0, p.n, o.leash,
    o.distraction, c.n, '', '', 'memory', 0, o.note, ''
  FROM one o CROSS JOIN entry d ON d.kind = 'dog' AND d.key = lower(o.dog) CROSS JOIN entry h ON h.kind = 'handler' AND h.key = lower(o.handler)
    CROSS JOIN entry p ON p.kind = 'place' AND p.key = lower(o.place) CROSS JOIN entry c ON c.kind = 'device' AND c.key = lower(o.device)
  ORDER BY o.n;
INSERT INTO session (n, id, shown, dog, start_ms, day, standing)
  SELECT n, substr(id, 1, 8) || '-' || substr(id, 9, 4) || '-' || substr(id, 13, 4) || '-' || substr(id, 17, 4) || '-' || substr(id, 21), n, dog, start_ms,
    (start_ms / 1000 + 3600) / 86400, 1
  FROM revision ORDER BY n;
INSERT INTO trial (revision, position, cue, kind, signal, outcome, asks, latency, corrections, highest, last, device, breaks, marks, line)
  SELECT o.n, x.at - o.first, u.n, 'response', '', CASE x.response WHEN 'no' THEN 'refused' ELSE 'answered' END, x.asks, nullif(x.latency, ''), x.level <> '',
    nullif(x.level, ''), nullif(x.level, ''), CASE WHEN x.level <> '' THEN r.device END, 0, x.marks, x.at - o.first + 5
  FROM cell x CROSS JOIN one o ON o.dog = x.dog AND o.start = x.start CROSS JOIN entry u ON u.kind = 'cue' AND u.key = x.cue CROSS JOIN revision r ON r.n = o.n
  ORDER BY x.at;
INSERT INTO correction (revision, position, turn, kind, level, device, served)
  SELECT revision, position, 0, 'collar', highest, device, 1 FROM trial WHERE highest IS NOT NULL;
COMMIT;
