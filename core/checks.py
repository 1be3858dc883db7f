"""System checks with id and hint for each misconfiguration we can foresee."""
