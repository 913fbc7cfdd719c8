-- Which of the $deployments hung on any of the days from $first to $last, a day's slack at both ends.
SELECT deployment FROM deployments
WHERE list_contains($deployments::VARCHAR[], deployment) AND gone IS NOT TRUE
    AND coalesce(hung < $last::DATE + 2, TRUE)
    AND (taken_down IS NULL OR taken_down >= $first::DATE)
