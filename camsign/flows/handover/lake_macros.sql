-- The hunting year of a local day, as camsign.logbook.moments.season_of gives it: {month}, {day}
-- are those on which a season starts.
CREATE OR REPLACE TEMP MACRO season_in(local_day) AS
    year(local_day) - (month(local_day) * 100 + day(local_day) < {month} * 100 + {day})::INTEGER
