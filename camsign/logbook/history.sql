-- Acts that speak of something: of a thing by its id or by any name it ever had, of all that names that
-- thing, of a camera's hanging, outages, clock and cards, of a frame by the beginning of its id; and the
-- acts that took those back. Nothing named: all acts.
WITH RECURSIVE named AS (
    SELECT DISTINCT id FROM field_edits
    WHERE lower(id) = lower($of)
        OR (field = 'name' AND lower(json_extract_string(value, '$')) = lower($of))
),
said AS (
    SELECT act FROM field_edits
    WHERE id IN (FROM named) OR json_extract_string(value, '$') IN (FROM named)
        OR (field = 'camera' AND lower(json_extract_string(value, '$')) = lower($of))
    UNION SELECT act FROM tag_edits
    WHERE buck_id IN (FROM named) OR (regexp_full_match($of, '[0-9a-fA-F]{6,64}')
        AND starts_with(frame, lower(left($of, 16))))
    UNION SELECT act FROM acts WHERE act = lower($of)
),
spoken AS (
    SELECT act FROM said
    UNION SELECT a.act FROM acts a, spoken s WHERE list_contains(a.undoes, s.act)
)
SELECT act, said, writer, what, undone FROM acts
WHERE $of IS NULL OR act IN (FROM spoken)
ORDER BY said DESC, writer DESC
LIMIT $most
