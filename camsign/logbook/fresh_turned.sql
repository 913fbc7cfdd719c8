-- And those of which acts speak that were undone or redone.
INSERT INTO fresh_things
SELECT DISTINCT thing, id FROM field_edits WHERE act IN (SELECT unnest($turned::VARCHAR[]))
EXCEPT FROM fresh_things;

INSERT INTO fresh_frames
SELECT DISTINCT coalesce(w.stands_for, e.frame)
FROM tag_edits e LEFT JOIN frame_twins w USING (frame) WHERE e.act IN (SELECT unnest($turned::VARCHAR[]))
EXCEPT FROM fresh_frames;
