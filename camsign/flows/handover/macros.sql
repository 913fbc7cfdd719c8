-- Places to the middle of their 1 km square, as rounded.py does it; texts that are no formulas.
CREATE OR REPLACE TEMP MACRO grid_lat(lat) AS (floor(lat * 111.19508) + 0.5) / 111.19508;
CREATE OR REPLACE TEMP MACRO grid_across(lat) AS
    111.19508 * greatest(cos(radians(grid_lat(lat))), 1e-3);
CREATE OR REPLACE TEMP MACRO lat_out(lat, exact) AS
    CASE WHEN exact THEN lat ELSE round(grid_lat(lat), 4) END;
CREATE OR REPLACE TEMP MACRO lon_out(lat, lon, exact) AS
    CASE WHEN exact THEN lon ELSE round((floor(lon * grid_across(lat)) + 0.5) / grid_across(lat), 4) END;
CREATE OR REPLACE TEMP MACRO plain_text(said) AS
    CASE WHEN regexp_matches(said, '^''*[=+\-@\t\r＝＋－＠]') THEN '''' || said ELSE said END;
CREATE OR REPLACE TEMP MACRO stamp(utc) AS strftime(utc, '%Y-%m-%dT%H:%M:%SZ')
