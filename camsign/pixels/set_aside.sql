-- By camera and reason why frames could not be judged (NULL: they could), the most frequent first: how
-- many there are, were judged, were set aside, and are held for a look first; and with how many bursts
-- tagged as nothing they were compared.
SELECT t.camera, CASE
        -- It is compared with what is no neighbor in time: a map is no fog.
        WHEN t.utc IS NULL AND s.cant_judge IN ('fog or haze', 'too few to compare') THEN 'no date' ELSE s.cant_judge
    END AS cant_judge, count(*), count(s.news), count(*) FILTER (s.aside),
    count(*) FILTER (s.look_first), coalesce(max(c.taught), 0)
FROM frame_times t JOIN frames f USING (frame)
LEFT JOIN empty_scores s ON s.frame = t.frame AND s.camera = t.camera
LEFT JOIN changes c ON c.frame = t.frame AND c.camera = t.camera
WHERE t.camera IS NOT NULL AND ($cards IS NULL OR (list_contains($cards, f.card)
    AND t.camera IN (SELECT camera FROM cards_now WHERE list_contains($cards, card))))
GROUP BY ALL
ORDER BY t.camera, count(*) DESC, cant_judge
