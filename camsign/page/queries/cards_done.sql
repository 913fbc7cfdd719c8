-- How far each card is sorted: its frames as the sorting page lists them, and those with a tag.
SELECT s.card, min(s.camera) AS camera, count(*) AS frames, count(t.frame) AS tagged
FROM page.strips s LEFT JOIN (SELECT DISTINCT frame FROM tags) t USING (frame)
GROUP BY s.card ORDER BY min(s.camera), s.card
