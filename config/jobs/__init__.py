"""Daily jobs and queued tasks, done by the one `jobs` process."""
