-- In how many of these frames this detector found an animal, a person, a vehicle.
SELECT count(*) FILTER (animal > 0), count(*) FILTER (person > 0), count(*) FILTER (vehicle > 0)
FROM detected WHERE model = $model AND frame IN (SELECT unnest($frames::VARCHAR[]))
