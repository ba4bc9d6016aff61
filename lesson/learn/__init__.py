"""Learning the tables of shared/ from talks whose true moves are marked; not needed to use the program."""
