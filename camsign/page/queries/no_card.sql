-- Spots at which a camera hung and was taken down, with no picture from there: whose card is missing.
-- Said once another card of that camera is loaded, or one of every other camera: before that it may
-- just be waiting its turn. `moved`: to another spot; `is_first`: at its first one.
WITH d AS (FROM deployments WHERE gone IS NOT TRUE),
loaded AS (SELECT DISTINCT camera FROM frame_times WHERE camera IS NOT NULL)
SELECT d.camera, d.hung, d.taken_down,
    EXISTS (FROM d o WHERE o.camera = d.camera AND o.hung >= d.taken_down) AS moved,
    NOT EXISTS (FROM d o WHERE o.camera = d.camera AND o.hung < d.hung) AS is_first
FROM d
WHERE d.taken_down IS NOT NULL AND NOT EXISTS (FROM frame_times t WHERE t.deployment = d.deployment)
    AND (d.camera IN (FROM loaded) OR (EXISTS (FROM loaded) AND NOT EXISTS (
        FROM d o WHERE o.camera <> d.camera AND o.camera NOT IN (FROM loaded)
    )))
ORDER BY lower(d.camera), d.hung
