-- Two cards of one camera with pictures of the same days, taken in turns: one of them is another camera's,
-- or a clock showed another date. Parts of one card may lie so too; then the numbers of the files go on.
DELETE FROM conflicts WHERE kind = 'cards in turns'
    AND NOT EXISTS (FROM cards_now WHERE list_contains(ids, card) AND camera NOT IN (FROM new_cameras));

-- Only with timed.
INSERT INTO conflicts
WITH shot AS (
    SELECT card, camera, utc, number_of(card_path) AS number,
        regexp_replace(lower(regexp_extract(card_path, '[^/]*$')), '\d+', '', 'g') AS named
    FROM timed
    WHERE deployment IS NOT NULL AND shown_from LIKE 'DateTime%' AND regexp_matches(card_path, '(?i)\d\D*\.jpe?g$')
    -- What two cards show of one second is one picture, saved again.
    WINDOW second AS (PARTITION BY camera, date_trunc('second', utc))
    QUALIFY min(card) OVER second = max(card) OVER second
),
turns AS (
    SELECT *, lag(card) OVER in_turn AS card_before,
        named = lag(named) OVER in_turn AND number > lag(number) OVER in_turn AS goes_on
    FROM shot WINDOW in_turn AS (PARTITION BY camera ORDER BY utc, card)
),
pairs AS (
    SELECT camera, least(card, card_before) AS one, greatest(card, card_before) AS other,
        min(utc)::DATE AS first, max(utc)::DATE AS last
    FROM turns WHERE card <> card_before
    GROUP BY ALL
    -- Our choice: one odd date, or a card that came back unwiped, makes fewer turns.
    HAVING count(*) >= 6 AND count(*) FILTER (goes_on) < 0.8 * count(*)
)
SELECT 'cards in turns', [one, other],
    'one camera can''t fill two cards at once, and ' || p.camera || ' has pictures of ' || first || ' to ' || last
        || ' on both ' || one || ' and ' || other,
    'is one another camera''s? camsign cards set CARD --camera ID. Is a date off? camsign clock audit '
        || quoted(p.camera) || '. Are both right? camsign cards set ' || other || ' --camera ' || quoted(p.camera),
    0
FROM pairs p LEFT JOIN card_words w ON w.card = one LEFT JOIN card_words v ON v.card = other
WHERE w.camera IS NULL AND v.camera IS NULL;
