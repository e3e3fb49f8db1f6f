"""What was measured: a recording in, a reading in the journal, all readings beside one another."""
