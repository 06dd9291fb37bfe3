"""Steps that bring a database's tables from one version of Forelamp to the next."""
