"""What survives a kill, a full disk, a crowd, an upgrade, a flipped byte, a clock set back?"""
