"""What a face asks for, as values: a morning in this garden, a plan, a comparison, fresh documents."""
