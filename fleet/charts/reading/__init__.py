"""What filled charts say that came back as scans, faxes or photos.

From the picture to the cells: `found` (tags), `flat` and `fitting` (where the print lies), `coded`
(whose page it is), `ink`, `figures`, `judges` and `verdicts` (what each cell holds); `pages` does
it all. What the judges learned is in weights.npz, made by `tests/studies/chart_reading`.
"""
