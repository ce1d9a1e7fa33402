"""landing/inbox: exports under any name, cut into the nights and bays that landing/shots would hold."""
