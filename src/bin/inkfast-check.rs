//! `inkfast-check`: opens and checks one package, for whoever was handed it.

use std::process::ExitCode;

fn main() -> ExitCode {
    inkfast::check::main()
}
