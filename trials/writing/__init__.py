"""What goes to disk: whole files, a tidy copy, a trial to start from."""
