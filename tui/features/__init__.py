"""Features: one package for each question of the operator. A feature never imports another."""
