"""Labels of equipment: made, found by their code."""
