-- The frames of some cameras as numbers; texts are numbered by their place in the lists given.
WITH cameras AS (
    SELECT unnest($cameras) AS camera, generate_subscripts($cameras, 1) - 1 AS number
),
cards AS (SELECT unnest($cards) AS card, generate_subscripts($cards, 1) - 1 AS number),
deployed AS (
    SELECT unnest($deployments) AS deployment, generate_subscripts($deployments, 1) - 1 AS number
),
shot AS (
    SELECT t.frame, c.number AS camera, k.number AS card, coalesce(d.number, -1) AS deployment,
        t.burst, t.utc, t.doubt, f.shown, f.file_time, f.card_path, l.light, l.brightness,
        folder_of(f.card_path) AS folder
    FROM frame_times t
    JOIN cameras c ON c.camera = t.camera
    JOIN frames f ON f.frame = t.frame
    JOIN cards k ON k.card = f.card
    LEFT JOIN looks l ON l.frame = t.frame
    LEFT JOIN deployed d ON d.deployment = t.deployment
),
folders AS (
    SELECT card, folder, row_number() OVER (ORDER BY card, folder) AS number
    FROM (SELECT DISTINCT card, folder FROM shot)
)
SELECT s.frame, hash(s.burst) AS burst, s.camera, s.card, o.number AS folder,
    coalesce(number_of(s.card_path), -1) AS number,
    CASE WHEN s.utc IS NOT NULL THEN epoch_us(TRY_CAST(s.shown AS TIMESTAMP)) / 1e6 END AS shown_s,
    epoch_us(s.utc) / 1e6 AS read_s,
    s.deployment,
    CASE s.light WHEN 'colour' THEN 1 WHEN 'infrared' THEN 0 WHEN 'dark' THEN 0 ELSE -1 END AS light,
    s.brightness, epoch_us(TRY_CAST(s.file_time AS TIMESTAMP)) / 1e6 AS file_s,
    coalesce(contains(s.shown, '.'), false) AS fine,
    coalesce(contains(s.doubt, 'states an offset from UTC that the place does not have'), false) AS odd
FROM shot s JOIN folders o ON o.card = s.card AND o.folder = s.folder
