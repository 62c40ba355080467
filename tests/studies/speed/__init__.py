"""How fast is the engine, as ratios to other ways of doing the same work (design 4, 5)?"""
