-- The database of one logbook on one machine. All of it is made again from cards/, journal/ and
-- logbook.toml whenever it is missing or its version differs; nothing is kept only here.
-- Times ending in _utc, and hung, taken_down, start, stop, are UTC. Lengths are meters, bearings degrees true.

-- One row: which version of this schema and of what is derived made the database.
CREATE TABLE made (version VARCHAR);

-- What is new since the last opening and not yet carried into the derived tables.
-- kind: camera, frame, sign, area, buck, batches. id: its id; of batches the camera's.
CREATE TABLE touched (kind VARCHAR, id VARCHAR);

---------------------------------------------------------------- cards: facts, from receipts and Parquet

-- A card as its receipt tells it, once: of several folders that hold it (cards_read) the one taken in
-- first speaks. camera: as taken in; card_words.camera overrules it.
CREATE TABLE cards (
    card VARCHAR, camera VARCHAR, known_by VARCHAR, folder VARCHAR, taken_in_utc TIMESTAMP,
    source VARCHAR, files INTEGER, new INTEGER, known INTEGER, refused INTEGER,
    serials VARCHAR[], models VARCHAR[], safe_to_wipe BOOLEAN
);

-- Each folder under cards/ as it was read: the card in it, whose its receipt says it is, and the size and
-- time of what its pixels measure. notes: what is wrong with it though it was taken in.
CREATE TABLE cards_read (
    folder VARCHAR, measured VARCHAR, card VARCHAR, camera VARCHAR, notes VARCHAR[]
);

-- What the receipt of card told_by says was there before it: a writer's last line, or the card before.
CREATE TABLE knew (
    told_by VARCHAR, writer VARCHAR, n BIGINT, act VARCHAR, card VARCHAR, folder VARCHAR, camera VARCHAR
);

-- What is missing and was told: how many lines of a writer, or 1 for a card.
CREATE TABLE gone (what VARCHAR, many BIGINT);

-- Every file of every card, also those whose bytes another card already holds.
CREATE TABLE card_files (card VARCHAR, frame VARCHAR, card_path VARCHAR, known BOOLEAN);

-- Pictures that another card holds too than the one by which they stand.
CREATE TABLE held_twice (frame VARCHAR, card VARCHAR);

-- A picture or clip, once. frame: the first 16 hex digits of its SHA-256. file: its path inside the
-- logbook. shown: what the camera's clock showed, ISO 8601 without offset, never altered.
CREATE TABLE frames (
    frame VARCHAR, sha256 VARCHAR, card VARCHAR, file VARCHAR, card_path VARCHAR, bytes BIGINT,
    kind VARCHAR, shown VARCHAR, shown_from VARCHAR, shown_raw VARCHAR, offset_minutes INTEGER,
    make VARCHAR, model VARCHAR, serial VARCHAR, owner VARCHAR, orientation INTEGER,
    width INTEGER, height INTEGER, lat DOUBLE, lon DOUBLE, altitude_m DOUBLE,
    img_direction_deg DOUBLE, img_direction_ref VARCHAR, gps_utc VARCHAR,
    comment VARCHAR, description VARCHAR, software VARCHAR, file_time VARCHAR, doubts VARCHAR[],
    beside VARCHAR
);

-- Small pictures that cameras wrote to go with a clip: kept, and no frames of their own. beside: the
-- clip's path on the card (NULL for every frame).
CREATE TABLE besides (
    frame VARCHAR, sha256 VARCHAR, card VARCHAR, file VARCHAR, card_path VARCHAR, bytes BIGINT,
    beside VARCHAR
);

-- What the pixels of a frame measure. maker: the version of the measuring code.
CREATE TABLE looks (
    frame VARCHAR, maker INTEGER, light VARCHAR, brightness DOUBLE, contrast DOUBLE,
    colour DOUBLE, sharpness DOUBLE, numbers JSON
);

-- What a detector of the user's own found where a frame was new: the best score, 0..1, of any animal,
-- person, vehicle. The box is the best one, as shares of the picture. model: its name and a hash.
CREATE TABLE detected (
    frame VARCHAR, model VARCHAR, animal DOUBLE, person DOUBLE, vehicle DOUBLE,
    box_x DOUBLE, box_y DOUBLE, box_width DOUBLE, box_height DOUBLE
);

---------------------------------------------------------------- journal: what people said

-- How far each journal file has been read; of how many lines nothing could be read; its size and time;
-- and a hash of what lies right before the place reached, to see when another file took its place.
-- latest: when the latest of its lines was said.
CREATE TABLE journals (
    file VARCHAR, bytes BIGINT, lines BIGINT, damaged BIGINT, stamp VARCHAR, "sum" VARCHAR, latest VARCHAR
);

-- The numbers of the lines that were read, by writer, in spans without a gap: so a gap is told.
CREATE TABLE lines_read (writer VARCHAR, "first" BIGINT, "last" BIGINT);

-- One row a line. undoes: the acts it takes back, if any. undone: a later act took it back.
CREATE TABLE acts (
    act VARCHAR, writer VARCHAR, n BIGINT, said VARCHAR, what VARCHAR, undoes VARCHAR[], undone BOOLEAN
);

-- One row a field that was set. value is JSON text. stamp orders all edits of all writers.
CREATE TABLE field_edits (
    thing VARCHAR, id VARCHAR, field VARCHAR, value VARCHAR, stamp VARCHAR, act VARCHAR
);

-- One row a frame and tag said of it. subject: the key of who or what; '*' clears the frame's tags, '*own'
-- those that the same writer said.
CREATE TABLE tag_edits (
    frame VARCHAR, subject VARCHAR, gone BOOLEAN, what VARCHAR, buck_id VARCHAR, species VARCHAR,
    sex VARCHAR, stage VARCHAR, "count" INTEGER, travel_deg DOUBLE, sure VARCHAR,
    stamp VARCHAR, act VARCHAR
);

-- What could not be read or understood: a damaged line, a line of a newer version, a lost receipt.
CREATE TABLE troubles (file VARCHAR, line BIGINT, what VARCHAR);

---------------------------------------------------------------- things: the last word per field

-- {things}

-- The tags that stand. sure: NULL, 'sure' or 'unsure'.
CREATE TABLE tags (
    frame VARCHAR, subject VARCHAR, what VARCHAR, buck_id VARCHAR, species VARCHAR, sex VARCHAR,
    stage VARCHAR, "count" INTEGER, travel_deg DOUBLE, sure VARCHAR
);

---------------------------------------------------------------- derived: made by the derive room

-- Deployments as they count: of those that two people said of one camera, near each other and at one time,
-- one stands, under the id that sorts first, with the last word of each field.
CREATE TABLE deployments (
    deployment VARCHAR, camera VARCHAR, lat DOUBLE, lon DOUBLE, hung TIMESTAMP, taken_down TIMESTAMP,
    worked_to_end BOOLEAN, facing_deg DOUBLE, clock VARCHAR, tz VARCHAR, note VARCHAR, gone BOOLEAN
);
-- The ids of deployments said twice, and under which id each counts.
CREATE TABLE deployment_twins (deployment VARCHAR, stands_for VARCHAR);

-- Small pictures that a camera sent by radio, each with the full one of the same second that its card
-- brought: the full one counts, also for what was said of the small one, which has no row in frame_times.
CREATE TABLE frame_twins (frame VARCHAR, camera VARCHAR, stands_for VARCHAR);

-- Frames that are tagged with several bucks.
CREATE TABLE several_bucks (frame VARCHAR);

-- What was said twice or cannot all be so. remedy: what settles it; NULL where nothing needs to be
-- done. waiting: how many pictures have no place, or a doubtful time, until it is settled.
CREATE TABLE conflicts (
    kind VARCHAR, ids VARCHAR[], what VARCHAR, remedy VARCHAR, waiting BIGINT
);

-- A deployment's clock in pieces: within [shown_from, shown_until) of what the camera showed,
-- UTC = shown - offset_s - drift * (shown - shown_from). basis: which rule or correction it is.
-- own_s: what is added to a believed UTC offset in the picture, which then stands for offset_s;
-- NULL where the rule or correction outranks the picture. lane: the correction of frames, by the order of
-- their files, for which alone it is; '' for all others.
CREATE TABLE clock_pieces (
    deployment VARCHAR, shown_from TIMESTAMP, shown_until TIMESTAMP, offset_s DOUBLE, drift DOUBLE,
    basis VARCHAR, estimated BOOLEAN, own_s DOUBLE, lane VARCHAR
);

-- Offsets of time zones, so that local time needs no time-zone extension.
CREATE TABLE zone_offsets (tz VARCHAR, from_utc TIMESTAMP, until_utc TIMESTAMP, offset_s INTEGER);

-- The sun at a place (rounded to 0.01 degrees) by local day; NULL where it does not rise or set.
-- up_from, up_until: the span around that day's noon in which it is up; NULL if it does not come up.
CREATE TABLE sun_days (
    tz VARCHAR, lat DOUBLE, lon DOUBLE, day DATE, sunrise TIMESTAMP, sunset TIMESTAMP,
    civil_dawn TIMESTAMP, civil_dusk TIMESTAMP, up_from TIMESTAMP, up_until TIMESTAMP
);

-- A frame's camera, deployment and right time. local: wall-clock time of the place. night: the day on
-- whose noon the night began. doubt: why the time may be wrong; NULL if nothing speaks against it.
-- time_from: where what the camera showed was read: camera, THM, notes, container, comment, name,
-- file, strip, strip alone, XMP, IPTC or editor. weak: why that is less than the camera's own word; NULL if it is that, or confirmed.
-- several: it fits two hangs of its camera.
CREATE TABLE frame_times (
    frame VARCHAR, camera VARCHAR, deployment VARCHAR, utc TIMESTAMP, local TIMESTAMP, day DATE,
    night DATE, sunrise TIMESTAMP, sunset TIMESTAMP, minutes_from_sunrise DOUBLE,
    minutes_from_sunset DOUBLE, light VARCHAR, in_daylight BOOLEAN, burst VARCHAR, basis VARCHAR,
    doubt VARCHAR, time_from VARCHAR, weak VARCHAR, several BOOLEAN
);

-- A tagged subject in a frame that has a place and a time.
CREATE TABLE detections (
    frame VARCHAR, subject VARCHAR, what VARCHAR, buck_id VARCHAR, species VARCHAR, sex VARCHAR,
    stage VARCHAR, "count" INTEGER, travel_deg DOUBLE, sure VARCHAR, camera VARCHAR,
    deployment VARCHAR, utc TIMESTAMP, local TIMESTAMP, day DATE, night DATE, light VARCHAR, in_daylight BOOLEAN,
    minutes_from_sunrise DOUBLE, minutes_from_sunset DOUBLE, burst VARCHAR, doubt VARCHAR, weak VARCHAR
);

-- What a frame shows that its camera's other frames in like light do not; kept in the cache and made
-- from the glances in looks.parquet. news: NULL if nothing can be said. Boxes and size are shares of
-- the picture. way: left or right across its burst, an estimate. veiled: missing fine detail, 0..1.
-- cant_judge: why the frame cannot be judged. comes_back: its burst shows a thing that most of the
-- camera's pictures do not, or most of its view show one that some lack. taught: how many bursts
-- tagged as nothing before its card came in it was compared with as well.
CREATE TABLE changes (
    frame VARCHAR, camera VARCHAR, card VARCHAR, light VARCHAR, news DOUBLE, own DOUBLE, box_x DOUBLE, box_y DOUBLE, box_width DOUBLE,
    box_height DOUBLE, size DOUBLE, contrast DOUBLE, way VARCHAR, way_steady DOUBLE, veiled DOUBLE,
    cant_judge VARCHAR, comes_back BOOLEAN, taught INTEGER
);

-- Frames that an earlier check did not set aside, from each card's shown.txt: `kept`, or `look` where
-- they are held for a look first. No later check sets them aside.
CREATE TABLE shown (frame VARCHAR, card VARCHAR, how VARCHAR);

-- The size and time of each folder's shown.txt as it was read.
CREATE TABLE shown_read (folder VARCHAR, stamp VARCHAR);

-- The batches that lay in the cache when `changes` was brought up to date last, by name.
CREATE TABLE batches_taken (made VARCHAR);

-- News below which a frame is set aside, by light class; camera NULL: until a camera has its own.
CREATE TABLE empty_thresholds (camera VARCHAR, light VARCHAR, threshold DOUBLE);

-- How likely a frame is empty, 0..1, from its news and its camera's threshold. A frame that cannot be
-- judged scores 0. A detector can only lower it. Above 0.5 it is set aside, unless it was shown before,
-- or is held for a look first: it shows what comes back to one spot, or more than three quarters of the
-- card's frames in that light would go at once. Of `aside` and `look_first` one at most.
CREATE TABLE empty_scores (
    frame VARCHAR, camera VARCHAR, news DOUBLE, threshold DOUBLE, empty_score DOUBLE,
    cant_judge VARCHAR, aside BOOLEAN, look_first BOOLEAN, how VARCHAR
);

-- Nights (noon to noon, local) from hanging to take-down, and whether the camera watched.
-- why: NULL if it did, else 'silent', 'outage', 'after the last sign of life', 'only part of it' where it
-- was hung or taken down between sunset and sunrise, or 'doubtful times' where it worked, but its pictures
-- count in no answer.
-- day_watched: alive within 2 h of sunrise and of sunset of the local day `night`.
CREATE TABLE watch (deployment VARCHAR, night DATE, watched BOOLEAN, day_watched BOOLEAN, why VARCHAR);

-- Pictures that nobody has looked at, by local day and night: bursts without a tag of which no frame
-- is set aside as likely empty. likely_empty: bursts that were set aside and that nobody looked at.
CREATE TABLE unsorted (
    deployment VARCHAR, day DATE, night DATE, bursts BIGINT, likely_empty BIGINT
);

-- A sign with when it was made, by the evidence or by the defaults. One row a sighting.
CREATE TABLE made_windows (
    sign VARCHAR, sighting VARCHAR, kind VARCHAR, lat DOUBLE, lon DOUBLE, seen_on DATE,
    made_from DATE, made_to DATE, travel_deg DOUBLE, season INTEGER, basis VARCHAR
);

-- Distance and bearing from a deployment to a sign, up to the setting pair_limit_m.
CREATE TABLE sign_pairs (deployment VARCHAR, sign VARCHAR, distance_m DOUBLE, bearing_deg DOUBLE);

-- Distance from a deployment, and from a sign, to an area's edge (0 inside), up to pair_limit_m.
CREATE TABLE area_pairs (deployment VARCHAR, area VARCHAR, distance_m DOUBLE);
CREATE TABLE area_signs (sign VARCHAR, area VARCHAR, distance_m DOUBLE);

---------------------------------------------------------------- views

-- Looks at sign that looked fresh when they were seen: fresh on a day only while it lies in the made
-- window. What nobody said looked fresh is not in here.
CREATE VIEW fresh_looks AS
SELECT w.* FROM made_windows w JOIN sightings g USING (sighting) WHERE g.state = 'fresh';

-- The first and last day of each card's pictures at a spot, those known from an earlier card among them:
-- a silence within them is the camera's; before or between cards, another card may hold the pictures.
CREATE VIEW card_days AS
SELECT t.deployment, c.card, min(t.day) AS first_day, max(t.day) AS last_day
FROM card_files c JOIN frame_times t USING (frame) WHERE t.deployment IS NOT NULL GROUP BY ALL;

-- The nights that a camera hung for the whole of, and why it did not watch: also 'no card' where no
-- picture from that spot is loaded, and 'nothing' where it was silent before the first card's pictures
-- or between two cards'.
CREATE VIEW whole_nights AS
SELECT d.camera, w.deployment, w.night, w.watched,
    CASE WHEN NOT EXISTS (FROM frame_times t WHERE t.deployment = w.deployment) THEN 'no card'
        WHEN w.why = 'silent' AND NOT EXISTS (
            FROM card_days c
            WHERE c.deployment = w.deployment AND w.night >= c.first_day AND w.night < c.last_day
        ) THEN 'nothing' ELSE w.why END AS why
FROM watch w JOIN deployments d USING (deployment)
WHERE w.why IS DISTINCT FROM 'only part of it';

-- Every buck ever named and who he is now: merges followed to their end, names made unique. In a ring of
-- merges (two people merged each into the other) the one whose id sorts first stands.
CREATE VIEW bucks_now AS
WITH RECURSIVE reached(buck, now) AS (
    SELECT buck, buck FROM bucks
    UNION
    SELECT reached.buck, bucks.merged_into
    FROM reached JOIN bucks ON bucks.buck = reached.now
    WHERE bucks.merged_into IS NOT NULL
),
rings AS (
    SELECT b.buck FROM bucks b JOIN reached r ON r.buck = b.merged_into AND r.now = b.buck
),
ends AS (
    SELECT r.buck, coalesce(
        min(r.now) FILTER (b.buck IS NOT NULL AND b.merged_into IS NULL),
        min(r.now) FILTER (r.now IN (SELECT buck FROM rings)),
        min(r.now) FILTER (b.buck IS NULL)) AS now
    FROM reached r LEFT JOIN bucks b ON b.buck = r.now
    GROUP BY r.buck
),
standing AS (
    SELECT b.buck, coalesce(b.name, b.buck) AS name,
        row_number() OVER (PARTITION BY lower(coalesce(b.name, b.buck)) ORDER BY b.buck) AS nth
    FROM bucks b JOIN ends ON ends.buck = b.buck AND ends.now = b.buck
    WHERE b.gone IS NOT TRUE
)
SELECT ends.buck, ends.now AS buck_id,
    CASE WHEN nth > 1 THEN name || ' (' || ends.now || ')' ELSE coalesce(name, ends.now) END AS name
FROM ends LEFT JOIN standing ON standing.buck = ends.now;

-- Areas that stand, names made unique.
CREATE VIEW areas_now AS
SELECT area AS area_id, kind, shape,
    CASE WHEN row_number() OVER (PARTITION BY lower(coalesce(name, area)) ORDER BY area) > 1
        THEN name || ' (' || area || ')' ELSE coalesce(name, area) END AS name
FROM areas WHERE gone IS NOT TRUE;

-- A name as a word of a command that is printed; the same as quoted() of camsign/errors.py.
CREATE MACRO quoted(word) AS CASE WHEN regexp_full_match(word, '[A-Za-z0-9_@%+=:,./-]+') THEN word
    WHEN regexp_matches(word, '["$`!]|\\\\|\\$') THEN '''' || replace(word, '''', '''"''"''') || ''''
    ELSE '"' || word || '"' END;

-- A file's name in parts where it holds a date and time (other_times.py reads them): the day, the time, A or P
-- of AM and PM, and the rest of the name; empty parts where it holds none.
CREATE MACRO dated_name(path) AS regexp_extract(path,
    '(?:^|\D)(20\d\d[-_.]?(?:0[1-9]|1[0-2])[-_.]?(?:0[1-9]|[12]\d|3[01]))(?:,? at |, |[-_.T ])?'
    || '((?:[01]\d|2[0-3])[-_.:h]?[0-5]\d[-_.:m]?[0-5]\d|(?:[01]?\d|2[0-3])[-_.:h][0-5]\d(?:[-_.:m][0-5]\d)?)'
    || '(?:[\W_]?([AaPp])\.?[Mm]\b)?([^/]*)$', ['day', 'time', 'half', 'rest']);

-- Which file of its card one is, from its path: by folder, then the date and time in its name, then the last
-- number in the rest of its name, then its name.
CREATE MACRO folder_of(path) AS regexp_replace(path, '[^/]*$', '');
CREATE MACRO digits_of(words) AS regexp_replace(words, '\D', '', 'g');
CREATE MACRO last_number(name) AS
    TRY_CAST(nullif(regexp_extract(name, '(\d{1,18})\D*(?:\.\w{1,4})?$', 1), '') AS BIGINT);
CREATE MACRO full_clock(time) AS
    rpad(CASE WHEN length(time) % 2 = 1 THEN '0' ELSE '' END || time, 6, '0')::BIGINT;
CREATE MACRO clock_number(clock, half) AS clock + CASE WHEN lower(half) = 'p' AND clock < 120000 THEN 120000
    WHEN lower(half) = 'a' AND clock >= 120000 THEN -120000 ELSE 0 END;
CREATE MACRO number_of(path) AS CASE WHEN dated_name(path).day = '' THEN last_number(path) ELSE
    (digits_of(dated_name(path).day)::BIGINT * 1000000
        + clock_number(full_clock(digits_of(dated_name(path).time)), dated_name(path).half)) * 100000
    + coalesce(last_number(dated_name(path).rest), 0) % 100000 END;
CREATE MACRO nth_file(card, path) AS
    row_number() OVER (PARTITION BY card ORDER BY folder_of(path), number_of(path), path);

-- A card's camera as it stands: what was said later overrules the receipt; where two friends' receipts
-- differ, until it is said, the name that sorts first counts on both sides.
CREATE VIEW cards_now AS
SELECT cards.* REPLACE (coalesce(card_words.camera, card_words.taken_as[1], cards.camera) AS camera),
    card_words.file_times
FROM cards LEFT JOIN card_words USING (card);
