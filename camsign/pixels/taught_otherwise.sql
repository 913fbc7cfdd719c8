-- The cameras of frames said anew that were tagged as nothing, be it undone by now, before a card of
-- theirs came in.
WITH told AS (
    SELECT t.camera, try_cast(left(min(a.said), 23) AS TIMESTAMP) AS said
    FROM retold t JOIN tag_edits e USING (frame) JOIN acts a ON a.act = e.act
    WHERE e.what = 'nothing'
    GROUP BY t.camera
)
SELECT DISTINCT told.camera FROM told JOIN cards_now c USING (camera) WHERE told.said < c.taken_in_utc
