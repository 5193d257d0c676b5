"""Who may do what, and what a wearer said: pure rules over what people wrote."""
