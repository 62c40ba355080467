"""How does a site's evidence become a PDF and a ZIP?"""
