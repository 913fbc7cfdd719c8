-- A strip's camera, place and middle, and which way the animal went: as said there, else as its pixels say.
WITH here AS (SELECT frame, camera, deployment, utc FROM page.strips WHERE strip = $strip),
said AS (SELECT frame, travel_deg FROM detections WHERE frame IN (SELECT frame FROM here)),
seen AS (SELECT frame, way FROM changes WHERE frame IN (SELECT frame FROM here) AND way IS NOT NULL)
SELECT coalesce(min(h.camera), '') AS camera, min(d.lat) AS lat, min(d.lon) AS lon, min(h.utc) AS utc,
    coalesce(min_by(said.travel_deg, h.utc),
        min_by(d.facing_deg + if(seen.way = 'right', 90, -90), h.utc)) AS way
FROM here h
LEFT JOIN deployments d USING (deployment)
LEFT JOIN said USING (frame)
LEFT JOIN seen USING (frame)
