-- Originals that stand in the logbook, in the order of their cards and files.
SELECT f.frame, f.sha256, f.kind, f.file, split_part(f.file, '/', 2) AS folder, l.maker,
    CASE WHEN h.box_x IS NOT NULL THEN [h.box_x, h.box_y, h.box_width, h.box_height] END AS box
FROM frames f
LEFT JOIN looks l ON l.frame = f.frame
LEFT JOIN changes h ON h.frame = f.frame
WHERE ($frames IS NULL OR f.frame IN (SELECT unnest($frames::VARCHAR[])))
    AND ($card IS NULL OR f.card = $card)
ORDER BY folder, f.card_path, f.frame
