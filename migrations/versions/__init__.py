"""The revisions. A revision that was published is never changed, and imports nothing of ours."""
