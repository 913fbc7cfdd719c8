-- Spots at which a camera hung and was taken down, with no picture from there: whose card is missing.
SELECT d.camera, d.hung, d.taken_down FROM deployments d
WHERE d.gone IS NOT TRUE AND d.taken_down IS NOT NULL
    AND NOT EXISTS (FROM frame_times t WHERE t.deployment = d.deployment)
ORDER BY lower(d.camera), d.hung
