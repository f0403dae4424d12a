"""A file a place: what one page of the workbench shows.  Each reads an Assessment and writes the job, no more."""
