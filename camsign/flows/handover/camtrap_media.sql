-- Camtrap DP 1.0.2, table media: frames with a place and a time. filePath: inside the logbook.
SELECT f.frame AS "mediaID", t.deployment AS "deploymentID",
    'activityDetection' AS "captureMethod", stamp(t.utc) AS timestamp,
    CASE WHEN contains(f.file, '..') THEN 'cards/' || f.frame ELSE f.file END AS "filePath",
    false AS "filePublic", plain_text(parse_filename(f.card_path)) AS "fileName",
    CASE f.kind WHEN 'avi' THEN 'video/x-msvideo' WHEN 'mov' THEN 'video/quicktime'
        WHEN 'mp4' THEN 'video/mp4' ELSE 'image/' || f.kind END AS "fileMediatype",
    NULL AS "exifData",
    CASE WHEN f.frame IN (SELECT frame FROM reference_pictures WHERE gone IS NOT TRUE) THEN true END
        AS favorite,
    t.doubt AS "mediaComments"
FROM frames f JOIN frame_times t USING (frame) JOIN deployments d USING (deployment)
WHERE t.utc IS NOT NULL AND d.gone IS NOT TRUE AND d.lat IS NOT NULL AND d.hung IS NOT NULL
ORDER BY t.deployment, t.utc, f.frame
