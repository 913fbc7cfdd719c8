-- The bucks seen anywhere in the days asked for.
SELECT DISTINCT buck_id FROM detections
WHERE buck_id IS NOT NULL AND day BETWEEN $first AND $last AND doubt IS NULL
    AND sure IS DISTINCT FROM 'unsure'
