-- The shell's bare counts of every dog and cue: no interval, no verdict.
SELECT r.dog, t.cue, count(*), sum(t.outcome = 'answered' AND t.asks = 1 AND t.corrections = 0)
FROM session s JOIN revision r ON r.n = s.shown JOIN trial t ON t.revision = r.n
WHERE s.standing = 1
GROUP BY r.dog, t.cue;
