"""The command line. Modules are imported inside the commands that need them, so that --help is quick."""
