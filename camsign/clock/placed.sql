-- How many frames lie on a card from one ($first; NULL: its first) to another ($last; NULL: its last), by the
-- order of their files.
WITH placed AS (
    SELECT frame, row_number() OVER (ORDER BY regexp_replace(card_path, '[^/]*$', ''),
        TRY_CAST(nullif(regexp_extract(card_path, '(\d{1,18})\D*$', 1), '') AS BIGINT), card_path
    ) AS nth
    FROM frames WHERE card = (SELECT card FROM frames WHERE frame = coalesce($first, $last))
)
SELECT count(*) FROM placed
WHERE ($first IS NULL OR nth >= (SELECT nth FROM placed WHERE frame = $first))
    AND ($last IS NULL OR nth <= (SELECT nth FROM placed WHERE frame = $last));
