-- Cameras that hang at one place only, whose card has pictures of days before: by what the camera's clock
-- showed, since their right time needs a deployment.
WITH one AS (
    SELECT camera, min(deployment) AS deployment, min(hung) AS hung FROM deployments
    WHERE gone IS NOT TRUE AND list_contains($cameras::VARCHAR[], camera)
    GROUP BY camera HAVING count(*) = 1
)
SELECT o.camera, o.deployment, o.hung, min(try_cast(f.shown AS TIMESTAMP)) AS first, count(*) AS frames
FROM one o JOIN frame_times t ON t.camera = o.camera AND t.deployment IS NULL JOIN frames f USING (frame)
WHERE try_cast(f.shown AS TIMESTAMP) < o.hung - INTERVAL 1 DAY
GROUP BY ALL ORDER BY o.camera
