DELETE FROM clock_pieces
WHERE deployment IN (SELECT deployment FROM current_deployments JOIN new_cameras USING (camera))
    OR deployment NOT IN (SELECT deployment FROM current_deployments);

DELETE FROM zone_offsets
WHERE tz <> $tz AND tz NOT IN (SELECT tz FROM current_deployments);
