-- A buck's pictures, best first: those chosen to know him by, then one a burst by day and sharpness.
WITH his AS (
    SELECT d.frame, d.local, d.utc, d.camera, d.light, d.burst, f.file, l.sharpness,
        d.frame IN (
            SELECT r.frame FROM reference_pictures r JOIN bucks_now n ON n.buck = r.buck
            WHERE n.buck_id = $buck AND r.gone IS NOT TRUE
        ) AS chosen
    FROM detections d JOIN bucks_now n ON n.buck = d.buck_id
    JOIN frames f ON f.frame = d.frame LEFT JOIN looks l ON l.frame = d.frame
    WHERE n.buck_id = $buck AND d.sure IS DISTINCT FROM 'unsure' AND f.kind NOT IN ($clips)
)
SELECT frame, local, camera, file FROM his
QUALIFY chosen OR row_number() OVER (
    PARTITION BY burst ORDER BY sharpness DESC NULLS LAST, frame) = 1
ORDER BY chosen DESC, light = 'day' DESC, sharpness DESC NULLS LAST, utc, frame
LIMIT $most
