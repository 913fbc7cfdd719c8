-- Days on which the asked bucks were seen far from an area by daylight.
-- $near: deployments that are not far. $tagged, $codes: a buck's id as tagged, and his number.
-- full: one of the detections was more than $window [min] behind sunrise and before sunset.
WITH who AS (SELECT unnest($tagged::VARCHAR[]) AS tagged, unnest($codes::INTEGER[]) AS code)
SELECT w.code AS buck, d.day,
    coalesce(max(least(d.minutes_from_sunrise, -d.minutes_from_sunset)) > $window, false) AS full_day
FROM detections d JOIN who w ON w.tagged = d.buck_id
WHERE d.day BETWEEN $first AND $last AND d.in_daylight
    AND d.doubt IS NULL AND d.sure IS DISTINCT FROM 'unsure'
    AND NOT list_contains($near::VARCHAR[], d.deployment)
GROUP BY w.code, d.day
