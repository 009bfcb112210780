"""What is done to a production's data as a whole: backups, restoring, upgrades, the doctor."""
