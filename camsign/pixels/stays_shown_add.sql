DELETE FROM shown WHERE frame IN (SELECT frame FROM newly_shown);
INSERT INTO shown SELECT frame, how FROM newly_shown
