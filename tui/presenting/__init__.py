"""From the engine's results to the views the widgets draw: choosing, renaming, reshaping; no physics of its
own.
"""
