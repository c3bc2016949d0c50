DROP INDEX fittings_bow;
CREATE INDEX fittings_bow ON fittings (club_id, bow_id);
DROP INDEX fittings_host;
CREATE INDEX fittings_host ON fittings (club_id, host_part_id);
