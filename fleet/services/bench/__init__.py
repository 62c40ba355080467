"""What is marked at a site's bench, and how?"""
