//! x
mod reckon;

use std::process::ExitCode;

fn main() -> ExitCode {
    if std::env::args().nth(1).as_deref() != Some("reckon") {
        return ExitCode::from(2);
    }
    match reckon::run(std::io::stdin().lock(), std::io::stdout().lock()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("tautline reckon: {error}");
            ExitCode::from(error.exit_code())
        }
    }
}
