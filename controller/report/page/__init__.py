"""The report as one HTML file: what its sentences, tables and charts say of the data."""
