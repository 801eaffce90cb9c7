//! Parses the command line and runs one command.

fn main() {}
