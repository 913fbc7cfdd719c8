-- How many frames lie on a card from one ($first; NULL: its first) to another ($last; NULL: its last), by the
-- order of their files.
WITH placed AS (
    SELECT frame, nth_file(card, card_path) AS nth
    FROM frames WHERE card = (SELECT card FROM frames WHERE frame = coalesce($first, $last))
)
SELECT count(*) FROM placed
WHERE ($first IS NULL OR nth >= (SELECT nth FROM placed WHERE frame = $first))
    AND ($last IS NULL OR nth <= (SELECT nth FROM placed WHERE frame = $last));
