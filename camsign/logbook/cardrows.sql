-- One card's Parquet files into the database. A picture that two cards both hold (after a merge of
-- two logbooks) stands once, by the card whose id sorts first.
INSERT INTO card_files
SELECT $card, frame, card_path, known FROM read_parquet($frames);

DELETE FROM frames WHERE card > $card AND frame IN (
    SELECT frame FROM read_parquet($frames) WHERE NOT known);

INSERT INTO frames BY NAME
SELECT * EXCLUDE (known) REPLACE ('cards/' || $folder || '/' || file AS file), $card AS card
FROM read_parquet($frames)
WHERE NOT known AND frame NOT IN (SELECT frame FROM frames);

INSERT INTO looks BY NAME
SELECT * EXCLUDE (glance) FROM read_parquet($looks) WHERE frame NOT IN (SELECT frame FROM looks);

INSERT INTO touched SELECT 'camera', camera FROM cards_now WHERE card = $card
