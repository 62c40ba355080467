"""Files in and out: tables of design section 7, exports, packets, certificates.

The only place with pandas, openpyxl and fpdf2.
"""
