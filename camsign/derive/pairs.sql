-- Signs and areas that stand, and which pairs are to be measured again.
CREATE OR REPLACE TEMP TABLE standing_signs AS
SELECT sign, lat, lon, sign IN (SELECT id FROM touched WHERE kind = 'sign') AS new
FROM signs
WHERE gone IS NOT TRUE AND abs(lat) <= 90 AND abs(lon) <= 180;

CREATE OR REPLACE TEMP TABLE standing_areas AS
SELECT area, shape, area IN (SELECT id FROM touched WHERE kind = 'area') AS new
FROM areas WHERE gone IS NOT TRUE AND shape IS NOT NULL;

CREATE OR REPLACE TEMP TABLE standing_points AS
SELECT deployment, lat, lon, camera IN (SELECT camera FROM new_cameras) AS new FROM current_deployments;

DELETE FROM sign_pairs
WHERE deployment NOT IN (SELECT deployment FROM standing_points WHERE NOT new)
    OR sign NOT IN (SELECT sign FROM standing_signs WHERE NOT new);

DELETE FROM area_pairs
WHERE deployment NOT IN (SELECT deployment FROM standing_points WHERE NOT new)
    OR area NOT IN (SELECT area FROM standing_areas WHERE NOT new);

DELETE FROM area_signs
WHERE sign NOT IN (SELECT sign FROM standing_signs WHERE NOT new)
    OR area NOT IN (SELECT area FROM standing_areas WHERE NOT new);
