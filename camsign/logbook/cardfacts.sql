-- One card folder's Parquet files into the database. A picture that two folders hold (after a merge of
-- two logbooks, or as a conflict copy of a sync service) stands once, by the card whose id sorts first
-- and in the folder whose name does; `stands_here` says whose measures are taken in.
CREATE OR REPLACE TEMP TABLE came AS
SELECT * FROM read_parquet($frames, hive_partitioning = false);

INSERT INTO card_files
SELECT DISTINCT $card, frame, card_path, known FROM came
EXCEPT SELECT card, frame, card_path, known FROM card_files WHERE card = $card;

-- Asked once: the logbook may hold thousands of frames for each of the card's.
CREATE OR REPLACE TEMP TABLE held AS
SELECT frame, card, file FROM frames WHERE frame IN (SELECT frame FROM came WHERE NOT known);

CREATE OR REPLACE TEMP TABLE taken_over AS
SELECT frame FROM held WHERE (card, file) > ($card, 'cards/' || $folder || '/');

-- Only with held.
INSERT INTO held_twice
SELECT frame, CASE WHEN frame IN (SELECT frame FROM taken_over) THEN card ELSE $card END
FROM held WHERE card <> $card
EXCEPT SELECT frame, card FROM held_twice;

-- Only with taken_over.
DELETE FROM frames WHERE frame IN (SELECT frame FROM taken_over);

-- Only with taken_over.
DELETE FROM looks WHERE frame IN (SELECT frame FROM taken_over);

-- Only with taken_over.
DELETE FROM detected WHERE frame IN (SELECT frame FROM taken_over);

CREATE OR REPLACE TEMP TABLE stands_here AS
SELECT frame, arg_min(rowid, file) AS nth FROM came
WHERE NOT known AND (frame NOT IN (SELECT frame FROM held)
    OR frame IN (SELECT frame FROM taken_over))
GROUP BY frame;

INSERT INTO frames BY NAME
SELECT * EXCLUDE (known) REPLACE ('cards/' || $folder || '/' || file AS file), $card AS card
FROM came WHERE rowid IN (SELECT nth FROM stands_here);

INSERT INTO besides BY NAME
SELECT frame, sha256, card, file, card_path, bytes, beside FROM frames
WHERE beside IS NOT NULL AND frame NOT IN (SELECT frame FROM besides);

DELETE FROM frames WHERE beside IS NOT NULL;

INSERT INTO touched SELECT 'camera', camera FROM cards_now WHERE card = $card
