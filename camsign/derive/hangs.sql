-- Deployments as they count. Those of one camera that overlap and lie within `near` [m] of one another are
-- one, said by two people; so is what is joined by a third. Each field has the last word that was said of it.
DELETE FROM deployment_twins;

INSERT INTO deployment_twins
WITH RECURSIVE good AS (
    SELECT * FROM deployments_said
    WHERE gone IS NOT TRUE AND camera IS NOT NULL AND hung IS NOT NULL
        AND abs(lat) <= 90 AND abs(lon) <= 180
),
near AS (
    SELECT a.deployment AS one, b.deployment AS other
    FROM good a JOIN good b ON a.camera = b.camera AND a.deployment <> b.deployment
        AND a.hung < coalesce(b.taken_down, TIMESTAMP '9999-01-01')
        AND b.hung < coalesce(a.taken_down, TIMESTAMP '9999-01-01')
    WHERE 111195 * sqrt((a.lat - b.lat) ** 2 + ((a.lon - b.lon) * cos(radians(a.lat))) ** 2) <= $near
),
joined(deployment, other) AS (
    SELECT one, other FROM near
    UNION
    SELECT j.deployment, n.other FROM joined j JOIN near n ON n.one = j.other
)
SELECT deployment, min(other) FROM joined GROUP BY deployment;

DELETE FROM deployments;

-- Its end is open if the one spoken of last is: then nobody's pictures fall out behind it.
INSERT INTO deployments
WITH words AS (
    SELECT e.id AS deployment, max(e.stamp) AS said
    FROM field_edits e JOIN acts a ON a.act = e.act AND NOT a.undone
    WHERE e.thing = 'deployment' AND e.id IN (SELECT deployment FROM deployment_twins)
    GROUP BY e.id
)
SELECT t.stands_for, any_value(d.camera), arg_max(d.lat, w.said), arg_max(d.lon, w.said),
    min(d.hung),
    CASE WHEN arg_max(d.taken_down IS NULL, w.said) THEN NULL ELSE max(d.taken_down) END,
    bool_or(d.worked_to_end), arg_max(d.facing_deg, w.said), arg_max(d.clock, w.said),
    arg_max(d.tz, w.said), arg_max(d.note, w.said), NULL
FROM deployment_twins t JOIN deployments_said d USING (deployment) JOIN words w USING (deployment)
GROUP BY t.stands_for
UNION ALL
SELECT * FROM deployments_said
WHERE deployment NOT IN (SELECT deployment FROM deployment_twins);
