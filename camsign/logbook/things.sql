-- The last word per field of the touched things.
CREATE OR REPLACE TEMP TABLE last_words AS
SELECT e.thing, e.id, e.field, arg_max(e.value, e.stamp) AS value
FROM field_edits e
JOIN fresh_things f ON f.thing = e.thing AND f.id = e.id
WHERE e.act NOT IN (SELECT act FROM acts WHERE undone)
GROUP BY e.thing, e.id, e.field
