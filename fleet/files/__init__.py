"""Files in: CSV, XLSX and TOML of design section 7; the only place with pandas and openpyxl."""
