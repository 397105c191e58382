"""What the log teaches of waits and work, as the screen and the verb show it."""
