"""Files and services, turned into terms: one module per form."""
