"""The returned page: an exercise engraved, its findings on the staff, heard and sung, in one file."""
