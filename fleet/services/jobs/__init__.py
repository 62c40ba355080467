"""How is long work done beside the pages, once, whatever process dies?"""
