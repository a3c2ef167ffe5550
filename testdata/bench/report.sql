-- One dog's trials, as they are.
SELECT s.id, r.start, r.handler, r.place, r.leash, r.distraction, t.*
FROM session s JOIN revision r ON r.n = s.shown JOIN trial t ON t.revision = r.n
WHERE s.dog = (SELECT n FROM entry WHERE kind = 'dog' AND key = 'barric 0') AND s.standing = 1
ORDER BY r.start_ms, t.position;
