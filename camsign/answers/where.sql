-- The last sure picture of a buck up to a day. $tagged: his ids as tagged; $last: local day.
SELECT d.utc, d.local, d.camera FROM detections d
WHERE list_contains($tagged::VARCHAR[], d.buck_id) AND d.day <= $last AND d.doubt IS NULL
    AND d.sure IS DISTINCT FROM 'unsure'
ORDER BY d.utc DESC, d.camera LIMIT 1
