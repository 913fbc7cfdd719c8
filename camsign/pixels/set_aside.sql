-- By camera and reason why frames could not be judged (NULL: they could), the most frequent first: how
-- many there are, were judged, were set aside, and are held for a look first.
SELECT t.camera, s.cant_judge, count(*), count(s.news), count(*) FILTER (s.aside),
    count(*) FILTER (s.look_first)
FROM frame_times t JOIN frames f USING (frame)
LEFT JOIN empty_scores s ON s.frame = t.frame AND s.camera = t.camera
WHERE t.camera IS NOT NULL AND ($cards IS NULL OR (list_contains($cards, f.card)
    AND t.camera IN (SELECT camera FROM cards_now WHERE list_contains($cards, card))))
GROUP BY ALL
ORDER BY t.camera, count(*) DESC, s.cant_judge
