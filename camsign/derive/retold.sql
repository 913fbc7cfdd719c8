-- What new tags hang on, so that a tag costs what it touches. A camera's rows lie together in the tables, which
-- are cut by camera or deployment first. What cameras are done whole for is not in here.
CREATE OR REPLACE TEMP TABLE retold AS
SELECT * FROM frame_times
WHERE frame IN (SELECT id FROM touched WHERE kind = 'frame')
    AND camera NOT IN (SELECT id FROM touched WHERE kind = 'camera');

-- The days that their bursts reach into.
CREATE OR REPLACE TEMP TABLE retold_days AS
SELECT DISTINCT deployment, day FROM frame_times
WHERE deployment IN (SELECT deployment FROM retold) AND utc IS NOT NULL
    AND burst IN (SELECT burst FROM retold);

-- All pictures of the bursts of those days, and all tags of these.
CREATE OR REPLACE TEMP TABLE retold_bursts AS
SELECT frame, camera, deployment, burst, day, night FROM frame_times
WHERE deployment IN (SELECT deployment FROM retold_days) AND utc IS NOT NULL
    AND burst IN (SELECT burst FROM frame_times SEMI JOIN retold_days USING (deployment, day));

CREATE OR REPLACE TEMP TABLE retold_tags AS
SELECT * FROM tags WHERE frame IN (SELECT frame FROM retold_bursts UNION SELECT frame FROM retold);
