"""Reading and recording: sound, clips and photos. The only place with decoders."""
