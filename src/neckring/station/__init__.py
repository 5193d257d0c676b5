"""What people write: the files of a station, their schemas, their reading and their faults."""
