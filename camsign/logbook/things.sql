-- The last word per field of the touched things of one kind; a test compares the columns with things.py.
SELECT e.id, e.field, arg_max(e.value, e.stamp) AS value
FROM field_edits e
JOIN fresh_things f ON f.thing = e.thing AND f.id = e.id
JOIN acts a ON a.act = e.act
WHERE e.thing = $thing AND NOT a.undone
GROUP BY e.id, e.field
