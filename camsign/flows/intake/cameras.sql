-- Every camera that anything speaks of.
SELECT camera FROM (
    SELECT camera FROM cameras
    UNION SELECT camera FROM deployments WHERE gone IS NOT TRUE
    UNION SELECT camera FROM cards_now
)
WHERE camera IS NOT NULL ORDER BY camera
