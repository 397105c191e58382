"""The trade and the time: jobs, clocks, timelines, log and alerts, with no screen."""
