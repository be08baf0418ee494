"""Reading and writing: C3D, YAML, NetCDF, tables, manifests; whole or not at all."""
