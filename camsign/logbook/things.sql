-- The last word per field of the touched things.
CREATE OR REPLACE TEMP TABLE last_words AS
SELECT e.thing, e.id, e.field, arg_max(e.value, e.stamp) AS value
FROM field_edits e
JOIN fresh_things f ON f.thing = e.thing AND f.id = e.id
JOIN acts a ON a.act = e.act
WHERE NOT a.undone
GROUP BY e.thing, e.id, e.field
