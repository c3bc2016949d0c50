-- Each log asks what was under its bow. These indexes answer that by themselves; without them
-- SQLite, which takes a club for about ten rows, reads every fitting of the club instead.

DROP INDEX fittings_bow;
CREATE INDEX fittings_bow ON fittings (club_id, bow_id, from_at, to_at, part_id);
DROP INDEX fittings_host;
CREATE INDEX fittings_host ON fittings (club_id, host_part_id, from_at, to_at, part_id);
