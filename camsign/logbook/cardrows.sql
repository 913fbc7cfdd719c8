-- One card's Parquet files into the database. A picture that two cards both hold (after a merge of
-- two logbooks) stands once, by the card whose id sorts first, and so does what its pixels measure.
INSERT INTO card_files
SELECT $card, frame, card_path, known FROM read_parquet($frames);

CREATE OR REPLACE TEMP TABLE taken_over AS
SELECT frame FROM frames WHERE card > $card AND frame IN (
    SELECT frame FROM read_parquet($frames) WHERE NOT known);

DELETE FROM frames WHERE frame IN (SELECT frame FROM taken_over);

DELETE FROM looks WHERE frame IN (SELECT frame FROM taken_over);

DELETE FROM detected WHERE frame IN (SELECT frame FROM taken_over);

INSERT INTO frames BY NAME
SELECT * EXCLUDE (known) REPLACE ('cards/' || $folder || '/' || file AS file), $card AS card
FROM read_parquet($frames)
WHERE NOT known AND frame NOT IN (SELECT frame FROM frames);

INSERT INTO looks BY NAME
SELECT * EXCLUDE (glance) FROM read_parquet($looks)
WHERE frame IN (SELECT frame FROM frames WHERE card = $card);

INSERT INTO detected BY NAME
SELECT * FROM read_parquet($detected)
WHERE frame IN (SELECT frame FROM frames WHERE card = $card);

INSERT INTO touched SELECT 'camera', camera FROM cards_now WHERE card = $card
