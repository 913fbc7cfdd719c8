-- What each buck's visits at each spot come to; rows without a buck: what is counted apart.
-- on_watch: visits on nights that were watched. starts: when each visit began [s since 1970, UTC].
SELECT v.spot, v.buck_id, n.name, v.apart, count(*) AS visits,
    count(*) FILTER (v.on_watch) AS on_watch, count(DISTINCT v.night) AS nights_seen,
    count(*) FILTER (v.in_daylight) AS by_daylight,
    list(epoch(v.utc) ORDER BY v.utc) AS starts,
    arg_min((v.utc, v.local), v.utc) AS first, arg_max((v.utc, v.local), v.utc) AS last
FROM visited v LEFT JOIN bucks_now n ON n.buck = v.buck_id
GROUP BY v.spot, v.buck_id, n.name, v.apart
ORDER BY visits DESC, n.name
