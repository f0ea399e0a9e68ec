//! The `inkfast` program: the command line over the library.

use inkfast::cli::app;
use std::process::ExitCode;

fn main() -> ExitCode {
    app::main()
}
