-- The hunting year of a local day, as camsign.logbook.moments.season_of gives it: {month}, {day}
-- are those on which a season starts.
CREATE OR REPLACE TEMP MACRO season_in(local_day) AS
    year(local_day) - (month(local_day) * 100 + day(local_day) < {month} * 100 + {day})::INTEGER
;
-- A distance to full 100 m, on its side of the reach, so that what counts stays what counts.
CREATE OR REPLACE TEMP MACRO far_out(far_m, reach_m, exact) AS
    CASE WHEN exact THEN far_m
         WHEN far_m <= reach_m THEN least(round(far_m, -2), reach_m::DOUBLE)
         ELSE greatest(round(far_m, -2), reach_m + 1.0) END
