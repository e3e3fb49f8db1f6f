"""What a repairer does at each stage of a job; the command line and the pages both call these."""
