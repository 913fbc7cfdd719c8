DELETE FROM shown WHERE (card, frame) IN (SELECT card, frame FROM newly_shown);
INSERT INTO shown SELECT frame, card, how FROM newly_shown;
UPDATE empty_scores SET how = n.how FROM newly_shown n WHERE n.frame = empty_scores.frame
