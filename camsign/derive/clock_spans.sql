DELETE FROM clock_pieces
WHERE deployment IN (SELECT deployment FROM current_deployments JOIN new_cameras USING (camera))
    OR deployment NOT IN (SELECT deployment FROM current_deployments);

-- New cameras whose every time stands only in the names of files: such pictures came by radio.
CREATE OR REPLACE TEMP TABLE named_only AS
SELECT c.camera FROM frames f JOIN cards_now c USING (card)
WHERE c.camera IN (SELECT camera FROM new_cameras) AND f.shown IS NOT NULL AND f.shown_from <> 'file'
    AND NOT (f.shown_from = 'name'
        AND (f.offset_minutes IS NOT NULL OR regexp_matches(f.card_path, $phones, 'i')))
GROUP BY c.camera HAVING bool_and(f.shown_from = 'name');

DELETE FROM zone_offsets
WHERE tz <> $tz AND tz NOT IN (SELECT tz FROM current_deployments);
