"""Words, tables and records: what a person or a program is shown of a comparison."""
