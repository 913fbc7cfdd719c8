-- What one card's shown.txt says, each frame once; lines that are torn or strange are passed over.
INSERT INTO shown
SELECT line[1:16], $card, min(line[18:21]) -- 'kept' before 'look'
FROM read_csv($file, columns = {'line': 'VARCHAR'}, header = false, delim = '\t', quote = '',
    escape = '', auto_detect = false, ignore_errors = true, null_padding = true)
WHERE regexp_full_match(line, '[0-9a-f]{16} (kept|look)')
GROUP BY line[1:16]
