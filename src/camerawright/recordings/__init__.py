"""Files in, frozen recordings out. The only place with decoders."""
