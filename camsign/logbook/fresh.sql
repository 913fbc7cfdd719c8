-- The things and frames of which the new rows speak.
CREATE OR REPLACE TEMP TABLE fresh_things AS
SELECT DISTINCT thing, id FROM field_edits WHERE rowid > $field_edits;

CREATE OR REPLACE TEMP TABLE fresh_frames AS
SELECT DISTINCT coalesce(w.stands_for, e.frame) AS frame
FROM tag_edits e LEFT JOIN frame_twins w USING (frame) WHERE e.rowid > $tag_edits;
