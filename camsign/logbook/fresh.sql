-- The things and frames of which the new rows speak, or acts that were undone or redone.
CREATE OR REPLACE TEMP TABLE fresh_things AS
SELECT DISTINCT thing, id FROM field_edits WHERE rowid > $field_edits;

CREATE OR REPLACE TEMP TABLE fresh_frames AS
SELECT DISTINCT coalesce(w.stands_for, e.frame) AS frame
FROM tag_edits e LEFT JOIN frame_twins w USING (frame) WHERE e.rowid > $tag_edits;

-- Only with turned.
INSERT INTO fresh_things
SELECT DISTINCT thing, id FROM field_edits WHERE act IN (SELECT act FROM turned)
EXCEPT FROM fresh_things;

-- Only with turned.
INSERT INTO fresh_frames
SELECT DISTINCT coalesce(w.stands_for, e.frame)
FROM tag_edits e LEFT JOIN frame_twins w USING (frame) WHERE e.act IN (SELECT act FROM turned)
EXCEPT FROM fresh_frames;

INSERT INTO changed SELECT thing, NULL FROM fresh_things UNION ALL SELECT NULL, frame FROM fresh_frames;
