-- Serial numbers and models of cameras: what people said, and what cards brought, as they stand now.
SELECT camera, 'serial' AS what, unnest(serials) AS value FROM cameras
UNION SELECT camera, 'serial', unnest(serials) FROM cards_now
UNION SELECT camera, 'model', model FROM cameras WHERE model IS NOT NULL
UNION SELECT camera, 'model', unnest(models) FROM cards_now
