-- Which of the $deployments hung on any of the days from $first to $last, a day's slack at both ends,
-- whether no picture from there is loaded, and whether more of its nights of those days are left out for
-- pictures of doubtful time than count.
SELECT deployment,
    NOT EXISTS (FROM watch w WHERE w.deployment = d.deployment AND w.watched)
    AND NOT EXISTS (FROM frame_times t WHERE t.deployment = d.deployment) AS no_card,
    (
        SELECT count(*) FILTER (why = 'doubtful times') > count(*) FILTER (watched) FROM watch w
        WHERE w.deployment = d.deployment AND w.night BETWEEN $first::DATE AND $last::DATE
    ) AS doubtful
FROM deployments d
WHERE list_contains($deployments::VARCHAR[], deployment) AND gone IS NOT TRUE
    AND coalesce(hung < $last::DATE + 2, TRUE)
    AND (taken_down IS NULL OR taken_down >= $first::DATE)
