-- The logbook itself, one row: what its answers count by.
SELECT 'property' AS file, NULL::INTEGER AS season, $id AS property_id, $name AS name, $tz AS tz,
    $month::INTEGER AS season_start_month, $day::INTEGER AS season_start_day,
    $reach::DOUBLE AS reach_m, $gap::DOUBLE AS visit_gap_s, $mature::DOUBLE AS mature_age
