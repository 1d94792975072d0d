"""Many sheets at once, as columns of arrays. NumPy comes in with its modules, so nothing imports them at start-up."""
