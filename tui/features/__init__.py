"""The questions of the operator, one package each; a feature never imports another."""
