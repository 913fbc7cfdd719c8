-- Whom the tags of the days asked for name at some deployments, by the id tagged.
-- $deployments; $first, $last: local days, both within.
SELECT DISTINCT buck_id FROM detections
WHERE deployment IN (SELECT unnest($deployments::VARCHAR[])) AND day BETWEEN $first AND $last
    AND doubt IS NULL AND sure IS DISTINCT FROM 'unsure'
