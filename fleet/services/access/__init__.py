"""Who may open the pages, and what may they see there?"""
