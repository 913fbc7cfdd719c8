-- Camtrap DP 1.0.2, table observations, one row a tag; a frame that nobody tagged is unclassified,
-- which is not blank. eventID: the burst.
WITH timed AS (
    SELECT t.frame, t.deployment, t.utc, t.burst, min(t.utc) OVER w AS first, max(t.utc) OVER w AS last,
        t.doubt, g.subject, g.what, g.buck_id, g.species, g.sex, g.stage, g."count", g.sure,
        coalesce(e.aside, false) AS aside, row_number() OVER (
            PARTITION BY t.frame ORDER BY g.subject) AS nth
    FROM frame_times t JOIN deployments d USING (deployment) JOIN frames f USING (frame)
    LEFT JOIN tags g USING (frame) LEFT JOIN empty_scores e USING (frame)
    WHERE t.utc IS NOT NULL AND d.gone IS NOT TRUE AND d.lat IS NOT NULL AND d.hung IS NOT NULL
    WINDOW w AS (PARTITION BY t.deployment, t.burst)
)
SELECT frame || '-' || nth AS "observationID", deployment AS "deploymentID", frame AS "mediaID",
    burst AS "eventID", stamp(first) AS "eventStart", stamp(last) AS "eventEnd",
    'media' AS "observationLevel",
    CASE WHEN what IS NULL THEN 'unclassified' WHEN what = 'nothing' THEN 'blank'
        WHEN what = 'person' THEN 'human' WHEN what IN ('animal', 'vehicle') THEN what
        ELSE 'unknown' END AS "observationType",
    NULL AS "cameraSetupType", taxa.taxon AS "scientificName",
    CASE WHEN what IN ('animal', 'person', 'vehicle') THEN greatest(coalesce("count", 1), 1) END AS count,
    stage AS "lifeStage", sex, NULL AS behavior, plain_text(n.name) AS "individualID",
    NULL AS "individualPositionRadius", NULL AS "individualPositionAngle", NULL AS "individualSpeed",
    NULL AS "bboxX", NULL AS "bboxY", NULL AS "bboxWidth", NULL AS "bboxHeight",
    CASE WHEN what IS NOT NULL THEN 'human' END AS "classificationMethod", NULL AS "classifiedBy",
    NULL AS "classificationTimestamp", NULL AS "classificationProbability",
    nullif(concat_ws(' | ', CASE WHEN sure = 'unsure' THEN 'sure:false' END,
        CASE WHEN what IS NULL AND aside THEN 'likelyEmpty:true' END,
        CASE WHEN doubt IS NOT NULL THEN 'timeDoubtful:true' END), '') AS "observationTags",
    plain_text(species) AS "observationComments"
FROM timed LEFT JOIN bucks_now n ON n.buck = timed.buck_id
LEFT JOIN (SELECT unnest($species::VARCHAR[]) AS word, unnest($taxa::VARCHAR[]) AS taxon) taxa
    ON taxa.word = timed.species
ORDER BY deployment, utc, frame, nth
