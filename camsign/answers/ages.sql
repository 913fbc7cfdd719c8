-- Ages of bucks as they stand, in years, of the season in which each was judged.
SELECT buck, age, age_year FROM bucks WHERE age IS NOT NULL AND gone IS NOT TRUE
ORDER BY age DESC, buck
