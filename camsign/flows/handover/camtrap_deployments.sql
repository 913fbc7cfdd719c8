-- Camtrap DP 1.0.2, table deployments. What still hangs ends with its last picture.
SELECT d.deployment AS "deploymentID", NULL AS "locationID", NULL AS "locationName",
    lat_out(d.lat, $exact) AS latitude, lon_out(d.lat, d.lon, $exact) AS longitude,
    $uncertainty AS "coordinateUncertainty", stamp(d.hung) AS "deploymentStart",
    stamp(coalesce(d.taken_down, greatest(t.last, d.hung))) AS "deploymentEnd",
    NULL AS "setupBy", plain_text(d.camera) AS "cameraID",
    plain_text(t.model) AS "cameraModel", NULL AS "cameraDelay",
    NULL AS "cameraHeight", NULL AS "cameraDepth", NULL AS "cameraTilt",
    CAST(round(d.facing_deg) AS INTEGER) % 360 AS "cameraHeading", NULL AS "detectionDistance",
    coalesce(t.doubtful, false) AS "timestampIssues", NULL AS "baitUse",
    NULL AS "featureType", NULL AS habitat, NULL AS "deploymentGroups", NULL AS "deploymentTags",
    CASE WHEN d.taken_down IS NULL THEN 'not taken down yet: ends with its last picture' END
        AS "deploymentComments"
FROM deployments d LEFT JOIN (
    SELECT deployment, max(utc) AS last, max(model) AS model, bool_or(doubt IS NOT NULL) AS doubtful
    FROM frame_times JOIN frames USING (frame) GROUP BY deployment
) t USING (deployment)
WHERE d.gone IS NOT TRUE AND d.lat IS NOT NULL AND d.hung IS NOT NULL
ORDER BY d.hung, d.camera, d.deployment
