"""Past, present and predicted state of the sun and the field, and its published sources.

Must not contain the ionosphere's layers. Only `sources.exchange` may open a connection.
"""
