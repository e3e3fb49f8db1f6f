"""Every kind of entry, by the stage of the job: what it holds, how it is entered, and how it reads in a sentence."""
